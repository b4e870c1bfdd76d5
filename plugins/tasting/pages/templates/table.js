"use strict";
(function () {
  var table = document.getElementById("casks"), body = table.tBodies[0], rows = Array.from(body.rows);
  var shown = document.getElementById("shown"), inputs = Array.from(document.querySelectorAll(".tools [data-column], #find"));
  var compare = new Intl.Collator(undefined, { numeric: true, sensitivity: "base" });
  function key(row, column) { return row.cells[column].dataset.key !== undefined ? row.cells[column].dataset.key : row.cells[column].textContent.trim(); }
  function filter() {
    var count = 0;
    rows.forEach(function (row) {
      var keep = inputs.every(function (input) {
        var wanted = input.value.trim().toLowerCase();
        if (!wanted) { return true; }
        if (input.id === "find") { return wanted.split(/\s+/).every(function (word) { return row.textContent.toLowerCase().includes(word); }); }
        return key(row, Number(input.dataset.column)).toLowerCase() === wanted;
      });
      row.hidden = !keep;
      count += keep ? 1 : 0;
    });
    shown.textContent = count + " of " + rows.length + " casks shown";
  }
  function sort(heading, column) {
    var down = heading.getAttribute("aria-sort") === "ascending";
    Array.from(heading.parentNode.cells).forEach(function (cell) { cell.removeAttribute("aria-sort"); });
    heading.setAttribute("aria-sort", down ? "descending" : "ascending");
    rows.sort(function (one, other) {
      var a = key(one, column), b = key(other, column);
      if (!a || !b) { return a ? -1 : b ? 1 : 0; }
      return (down ? -1 : 1) * compare.compare(a, b);
    });
    rows.forEach(function (row) { body.appendChild(row); });
  }
  Array.from(table.tHead.rows[0].cells).forEach(function (heading, column) {
    var button = heading.querySelector("button");
    if (button) { button.addEventListener("click", function () { sort(heading, column); }); }
  });
  inputs.forEach(function (input) { input.addEventListener("input", filter); });
  document.getElementById("clear").addEventListener("click", function () { inputs.forEach(function (input) { input.value = ""; }); filter(); });
  document.getElementById("print").addEventListener("click", function () { window.print(); });
  document.querySelector(".tools").hidden = false;
  filter();
})();
