// Comfort only; every page works without it.
"use strict";

// A form that is on its way is not sent a second time by an impatient thumb.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  form.setAttribute("aria-busy", "true");
});

// A page that is come back to may be sent again.
window.addEventListener("pageshow", () => {
  for (const form of document.forms) {
    delete form.dataset.sent;
    form.removeAttribute("aria-busy");
  }
});
