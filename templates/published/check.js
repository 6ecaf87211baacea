/* The typed code: read as forgivingly as the book does, a slip told, then opened. And the day of the last publishing. */
(function () {
  "use strict";
  var root = document.currentScript.dataset.root;

  function plain(typed) {
    return typed.toUpperCase().replace(/[\s\u2010-\u2015\u2212-]/g, "").replace(/O/g, "0").replace(/[IL]/g, "1");
  }

  /* What is wrong with a code as the book would say it, or ''. Its last character is checked by ISO/IEC 7064. */
  function slip(code) {
    var odd = /[^0-9A-HJKMNP-TV-Z]/.exec(code);
    if (!code) return "Type the sixteen characters printed beside the square.";
    if (odd) return "“" + odd[0] + "” is in no code. Look again.";
    if (code.length !== 16) {
      return "This has " + code.length + (code.length === 1 ? " character" : " characters") +
        "; a code has 16, in four groups of four. Look at the paper.";
    }
    var remainder = 0;
    for (var at = 0; at < 15; at += 1) remainder = (remainder + parseInt(code[at], 36)) * 2 % 37;
    if ((38 - remainder) % 37 === parseInt(code[15], 36)) return "";
    return "One of the characters is not as printed. Compare them with the paper, group by group.";
  }

  function open(typed) {
    var code = plain(typed);
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

  function ask() {
    box.setCustomValidity(slip(plain(box.value)));
    if (box.reportValidity()) open(box.value);
  }

  box.form.addEventListener("submit", function (event) {
    event.preventDefault();
    ask();
  });
  box.addEventListener("input", function () {
    box.setCustomValidity("");
  });
  var asked = new URLSearchParams(location.search).get("code");
  if (asked) {
    box.value = asked;
    ask();
  }

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
