"use strict";
// The findings of one core, as a list: severity, the rule's label, and what the audit wrote.
const KerfbookFindings = (() => {
  const { say, pieces, ruleLabel } = KerfbookWords;
  const { el, quoted } = KerfbookElements;
  const { SEVERITIES } = KerfbookFilter;

  const isKnown = (severity) => SEVERITIES.includes(severity);
  const severityWord = (severity) => (isKnown(severity) ? say(`severity.${severity}`) : quoted(severity));

  function item({ severity, rule, message }) {
    return el("li", isKnown(severity) ? severity : "note",
      el("strong", "", ...pieces("card.finding", { severity: severityWord(severity), rule: el("span", "rule", quoted(ruleLabel(rule))) })),
      el("span", "message", quoted(message)));
  }

  const list = (findings) => el("ul", "findings", ...findings.map(item));

  return { list };
})();
