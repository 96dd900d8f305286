"use strict";
// What to print, and on which paper: a script cannot find out either before the browser prints.
const KerfbookPrintDialog = (() => {
  const { page, say } = KerfbookWords;
  const { byId, el, button, tickBox } = KerfbookElements;
  const MOST_SHEETS = 60;
  const MOST_CORES = 3000;
  const WHAT = ["map", "streets", "districts", "table", "strips"];

  // A question with one answer, as radio buttons.
  function choice(name, values, chosen, onChange) {
    const inputs = values.map((value) => {
      const input = el("input", "");
      Object.assign(input, { type: "radio", name: `print-${name}`, value, checked: value === chosen });
      input.addEventListener("change", onChange);
      return input;
    });
    const set = el("fieldset", "print-choice", el("legend", "", say(`paper.ask_${name}`)),
      ...inputs.map((input) => el("label", "tick", input, el("span", "what", say(`paper.${name}_${input.value.toLowerCase()}`)))));
    return { set, inputs, value: () => inputs.find((input) => input.checked).value, choose: (value) => { inputs.forEach((input) => { input.checked = input.value === value; }); } };
  }

  class PrintDialog {
    constructor(filter, printing) {
      Object.assign(this, { filter, printing });
      const update = () => this.update();
      this.what = choice("what", WHAT.filter((what) => what !== "strips" || printing.strips.canBeDrawn), "map", update);
      this.paper = choice("paper", ["A4", "Letter"], page.units === "us" ? "Letter" : "A4", update);
      this.way = choice("way", ["portrait", "landscape"], "portrait", update);
      this.totals = tickBox(false, update, el("span", "what", say(page.hasOrders ? "paper.orders" : "paper.totals")));
      this.says = el("p", "print-says");
      this.says.setAttribute("role", "status");
      this.go = button(say("header.print"), () => this.print(), "more print-go");
      const cancel = button(say("paper.cancel"), () => this.dialog.close());
      this.dialog = el("dialog", "", el("h2", "", say("paper.title")), this.what.set, this.totals, this.paper.set, this.way.set, this.says,
        el("p", "buttons", this.go, cancel));
      this.dialog.id = "print-dialog";
      this.dialog.setAttribute("aria-label", say("paper.title"));
      document.body.append(this.dialog);
    }

    open() {
      const shown = this.printing.shown();
      if (shown !== this.wasShown) this.what.choose(shown);
      this.wasShown = shown;
      const strips = this.what.inputs.find((input) => input.value === "strips");
      if (strips) strips.nextElementSibling.textContent = say(`paper.what_${this.stripsOrMonths()}`);
      this.update();
      this.dialog.showModal();
    }

    stripsOrMonths() { return this.printing.strips.hasMonths() ? "months" : "strips"; }

    update() {
      const what = this.what.value();
      const isSheets = what === "streets" || what === "districts";
      const { total } = this.filter;
      const sheets = isSheets ? KerfbookPaperGroups.count(this.filter, what) : 1;
      const isTooMuch = isSheets && (sheets > MOST_SHEETS || total > MOST_CORES);
      this.totals.hidden = isSheets || what === "strips";
      this.go.disabled = isTooMuch || (isSheets && !total);
      const cores = say("paper.cores", { n: total });
      this.says.textContent = isTooMuch ? say("paper.too_many", { n: sheets, cores, most: MOST_SHEETS, most_cores: MOST_CORES })
        : isSheets ? say(total ? "paper.how_many" : "paper.nothing", { n: sheets, cores })
          : say(`paper.one_${what === "strips" ? this.stripsOrMonths() : what}`, { cores });
    }

    print() {
      const what = this.what.value();
      this.dialog.close();
      this.printing.print({ what, paper: this.paper.value(), way: this.way.value(), hasTotals: !this.totals.hidden && this.totals.firstElementChild.checked });
    }
  }

  function setUp(filter, printing) {
    let dialog = null;
    byId("print").addEventListener("click", () => {
      dialog ??= new PrintDialog(filter, printing);
      dialog.open();
    });
  }

  return { setUp };
})();
