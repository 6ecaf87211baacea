/* The typed code: read as forgivingly as the book does, then opened. And the day the folder was last published. */
(function () {
  "use strict";
  var root = document.currentScript.dataset.root;

  function plain(typed) {
    return typed.toUpperCase().replace(/[\s\u2010-\u2015\u2212-]/g, "").replace(/O/g, "0").replace(/[IL]/g, "1");
  }

  function open(typed) {
    var code = plain(typed);
    if (!code) return;
    var page = location.protocol === "file:" ? "/index.html" : "/";
    location.assign(root + "C/" + encodeURIComponent(code) + page);
  }

  var day = document.getElementById("as-of");
  if (day && window.published) {
    day.dateTime = window.published.day;
    day.textContent = window.published.said;
  }

  var box = document.getElementById("f-code");
  if (!box) return;
  box.form.addEventListener("submit", function (event) {
    event.preventDefault();
    open(box.value);
  });
  var asked = new URLSearchParams(location.search).get("code");
  if (asked) open(asked);

  /* On the page a host shows for an address it has not: the same code in other letters, or one that is not here. */
  var tried = /^\/(c)\/([^/]+)\/?$/i.exec(location.pathname);
  if (root === "/" && tried) {
    var typed = decodeURIComponent(tried[2]);
    if (tried[1] !== "C" || plain(typed) !== typed) {
      open(typed);
    } else {
      box.value = typed.replace(/(.{4})(?=.)/g, "$1 ");
    }
  }
})();
