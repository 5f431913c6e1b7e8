/* The browser's side of changing a plan: what is typed is sent to be drawn once the keys rest; leaving is asked. */
(function () {
  "use strict";
  var REST_MS = 350;
  var ASK = "What you changed in this plan is not saved. Leave it?";
  var latest = 0;
  var here = "";
  var left = false;

  function unsaved() {
    var form = document.getElementById("plan-form");
    var changed = document.getElementById("plan-changed");
    return Boolean(!left && form && !form.hidden && changed && changed.childElementCount);
  }

  document.addEventListener("focusin", function (event) {
    if (event.target.closest("#plan-form")) { here = window.location.href; left = false; }
  });
  window.addEventListener("beforeunload", function (event) {
    if (unsaved()) { event.preventDefault(); }
  });
  document.addEventListener("click", function (event) {
    var link = event.target.closest && event.target.closest("a[href]");
    var stays = !link || link.target || link.pathname + link.search === window.location.pathname + window.location.search;
    if (stays || event.ctrlKey || event.metaKey || event.shiftKey || !unsaved()) { return; }
    left = window.confirm(ASK);
    if (!left) { event.preventDefault(); event.stopImmediatePropagation(); }
  }, true);
  window.addEventListener("popstate", function (event) { // back and forward move within the app, without unloading
    if (!unsaved() || window.location.href.split("#")[0] === here.split("#")[0]) { return; }
    left = window.confirm(ASK);
    if (!left) { event.stopImmediatePropagation(); window.history.pushState({}, "", here); }
  }, true);

  // A field hands over what was typed as it is left; here it is drawn while it is typed.
  document.addEventListener("input", function (event) {
    if (!event.target.matches("#plan-sheet .mantine-TextInput-input")) { return; }
    window.dash_clientside.set_props(JSON.parse(event.target.id), { value: event.target.value });
  });

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    plan: {
      settled: function () {
        var mine = (latest += 1);
        return new Promise(function (resolve) {
          window.setTimeout(function () {
            resolve(mine === latest ? mine : window.dash_clientside.no_update);
          }, REST_MS);
        });
      },
      in_place: function (how) { return how !== "revision"; }
    }
  });
})();
