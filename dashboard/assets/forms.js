/* What a step of a form brings up gets the focus, so that the keyboard and a screen reader go on from there. */
(function () {
  "use strict";
  var ARRIVES = ".confirm, .notice.kept, [role=alert].problem";
  function arrived(node) {
    if (node.nodeType !== 1) { return null; }
    return node.matches(ARRIVES) ? node : node.querySelector(ARRIVES);
  }
  new MutationObserver(function (changes) {
    changes.forEach(function (change) {
      if (!change.target.closest || !change.target.closest("[data-answers]")) { return; }
      change.addedNodes.forEach(function (node) {
        var place = arrived(node);
        if (!place) { return; }
        if (!place.hasAttribute("tabindex")) { place.setAttribute("tabindex", "-1"); }
        window.setTimeout(function () { place.focus(); place.scrollIntoView({ block: "nearest" }); }, 30);
      });
    });
  }).observe(document.documentElement, { childList: true, subtree: true });
})();
