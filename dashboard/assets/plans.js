/* The browser's side of changing a plan: what is typed is sent to be drawn once the keys rest. */
(function () {
  "use strict";
  var REST_MS = 350;
  var latest = 0;
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
