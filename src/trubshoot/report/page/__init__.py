"""A batch as a page, for the file that `report` writes and for the local web pages alike.

- `style.stylesheet()`: palette and base rules, also for forms; `style.PALETTE` the colours.
- `figures.gravity_figure(overview, units)`, `temperature_figure`, `pressure_figure`:
  a `Figure` with svg, text and tables, or None where there is nothing to draw;
  `figures.all_figures(overview, units)` gives those there are.
- `fragments.hazard_fragment(blocks)`, `masthead_fragment`, `next_fragment`, `verdict_fragment`,
  `causes_fragment`, `checks_fragment`, `practice_fragment`, `process_fragment`, `summary_fragment`,
  `heard_fragment`, `unknown_fragment`, `sources_fragment`, `figure_fragment`, `table_fragment`:
  pieces of HTML as `Markup`. None has a heading above h3, except the hazard blocks, whose titles
  are h2, and the masthead, whose name is the h1 when that is asked for.
- `document.report_html(overview, units)` and `markdown.report_markdown(overview, units)`: whole;
  `seal.sealed(text)` makes them the bytes of a file that is known again.

Everything is read from a `trubshoot.diagnosis.overview.Overview`; nothing is worked out here. No
piece holds a script, a style attribute or an address outside the page, so a strict content policy
can stand.
"""
