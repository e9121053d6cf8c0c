// What scrolls by itself (a wide table, a long formula) is reached with the keyboard too: only that.
// And the buttons that the theme puts beside a block of code are no navigation.

function reach() {
  for (const one of document.querySelectorAll(".md-typeset table, .md-typeset__scrollwrap, .md-typeset .math")) {
    if (one.scrollWidth > one.clientWidth) one.tabIndex = 0;
    else one.removeAttribute("tabindex");
  }
}

new MutationObserver(() => {
  for (const one of document.querySelectorAll("nav.md-code__nav:not([role])")) one.role = "none";
}).observe(document.documentElement, { childList: true, subtree: true });

addEventListener("load", reach);
addEventListener("resize", reach);
