// What scrolls sideways can be reached, and scrolled, from the keyboard.
document.addEventListener("DOMContentLoaded", () => {
  for (const part of document.querySelectorAll("article pre, article .table-wrapper, article .formula")) {
    if (part.scrollWidth > part.clientWidth) part.tabIndex = 0;
  }
});
