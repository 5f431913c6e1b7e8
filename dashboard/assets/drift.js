/* Says when nothing has been stored for as long as the charts of the Drift page ask for. */
(function () {
  "use strict";
  var seen = null;
  var since = 0;
  var told = null;

  function mark(stand) {
    return JSON.stringify([stand.files, stand.started, stand.mark]);
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    drift: {
      rested: function (second, position, asked) {
        if (!position || !asked) { return window.dash_clientside.no_update; }
        var now = mark(position);
        if (now !== seen) { seen = now; since = Date.now(); }
        var rests = Date.now() - since >= 1000 * asked.rest;
        if (!rests || told === now || now === mark(asked.stand)) { return window.dash_clientside.no_update; }
        told = now;
        return now;
      }
    }
  });
})();
