"""Two writings of one invented batch of the Lantern Street cellar, in US and metric units."""

US = """\
batch: Lantern Street Amber No. 4
units: us
wort: {kind: partial mash, volume: 5, boiled: 2.5 gal, expected_og: 1.048, expected_fg: "3.07 P"}
fermentables:
  - {what: light liquid malt extract, amount: 6.6 lb, age: 8 months}
hops: [{what: invented hop, amount: 1 oz, use: boil}]
yeast: {class: clean american ale, form: dry, amount: 11 g, starter: no, rehydrated: 95}
vessel: {kind: bucket, volume: 6.5, spigot: true, headspace: 1.5 gal}
instruments: {hydrometer_scale: 68, hydrometer_in_water: 1.001, thermometer_checked: yes}
bottles: {kind: brown glass, size: 12, count: 48, reused: yes, closure: crown caps}
storage: {where: cupboard, temp: 70}
sanitizing: {with: no-rinse acid, rinsed: no, contact: 2 min}
room: 68
log:
  - {at: 2026-03-07 14:00, did: steeped, temp: 154, took: 30 min, water: 1 gal, grain: 1 lb}
  - {at: 2026-03-07 15:00, did: chilled, to: 68, took: 35 min}
  - {at: 2026-03-07 16:10, gravity: 1.047, sample: 75.2}
  - {at: 2026-03-07 16:20, did: pitched, beer: 75.2, amount: 11 g}
  - {at: 2026-03-12 19:00, beer: 66.2}
  - {at: 2026-03-22 14:00, did: bottled, sugar: 5 oz corn sugar, volume: 4.5, size: 12}
  - {at: 2026-04-12 20:00, tasted: [sour, thin], in: all bottles}
"""

METRIC = """\
batch: Lantern Street Amber No. 4
units: metric
wort: {kind: partial mash, volume: 18.92706, boiled: 9.46353, expected_og: 1048, expected_fg: 1.012}
fermentables:
  - {what: light liquid malt extract, amount: 2993.709642 g, age: 8 months}
hops: [{what: invented hop, amount: "28,349523125 g", use: boil}]
yeast: {class: clean american ale, form: dry, amount: 11 g, starter: no, rehydrated: 35}
vessel: {kind: bucket, volume: 24.605176596, spigot: true, headspace: 5.678117676 l}
instruments: {hydrometer_scale: 20, hydrometer_in_water: 1.001, thermometer_checked: yes}
bottles: {kind: brown glass, size: 354.88, count: 48, reused: yes, closure: crown caps}
storage: {where: cupboard, temp: 21.111111111}
sanitizing: {with: no-rinse acid, rinsed: no, contact: 120 s}
room: 20
log:
  - {at: 2026-03-07 14:00, did: steeped, temp: 67.7778, took: 0.5 h, water: 3.78541, grain: 453.6 g}
  - {at: 2026-03-07 15:00, did: chilled, to: 20, took: 2100 s}
  - {at: 2026-03-07 16:10, gravity: 1.047, sample: 24}
  - {at: 2026-03-07 16:20, did: pitched, beer: 24, amount: 11 g}
  - {at: 2026-03-12 19:00, beer: 19}
  - {at: 2026-03-22 14:00, did: bottled, sugar: 141.75 g corn sugar, volume: 17.034, size: 354.88}
  - {at: 2026-04-12 20:00, tasted: [sour, thin], in: all bottles}
"""
