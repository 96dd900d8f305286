"use strict";
// The findings of one core, as a list: urgency, severity, the rule's label, what the audit wrote, and whether accepted.
const KerfbookFindings = (() => {
  const { page, say, pieces, date, dayOf, ruleLabel } = KerfbookWords;
  const { el, quoted } = KerfbookElements;
  const { SEVERITIES } = KerfbookFilter;

  // A name that opens its place in the report of this run; alone where there is none.
  function inReport(kind, name, shown) {
    if (!page.report) return shown;
    const link = el("a", "", shown);
    link.href = `${page.report}#${kind}-${encodeURIComponent(name)}`;
    return link;
  }

  const isKnown = (severity) => SEVERITIES.includes(severity);
  const severityWord = (severity) => (isKnown(severity) ? say(`severity.${severity}`) : quoted(severity));

  const urgencyWord = (urgency) => (page.urgencies.includes(urgency) ? say(`urgency.${urgency}`) : quoted(urgency));

  function acceptedWords(until) {
    const day = dayOf(until);
    return day === null ? say("accepted.open_ended") : say("accepted.until", { day: date(day) });
  }

  function item({ severity, rule, message, urgency, accepted }) {
    const values = { severity: severityWord(severity), rule: el("span", "rule", inReport("rule", rule, quoted(ruleLabel(rule)))) };
    const title = urgency ? pieces("card.finding_urgent", { ...values, urgency: urgencyWord(urgency) }) : pieces("card.finding", values);
    return el("li", accepted === null ? (isKnown(severity) ? severity : "note") : "accepted",
      el("strong", "", ...title),
      accepted === null ? null : el("span", "acceptance", ` (${acceptedWords(accepted)})`),
      el("span", "message", quoted(message)));
  }

  const list = (findings) => el("ul", "findings", ...findings.map(item));

  return { list, inReport, acceptedWords };
})();
