package handbook

import (
	"fmt"
	"strings"

	"headroom/dashboard"
)

const intro = `# Alarm handbook

What every alarm means, when it comes and what to do. Written by ` + "`headroom handbook`" + ` from the words, the rules and the configuration of
"%s"; a machine with its own limits has its own handbook, on its page under /handbook. Don't edit this file.

headroom is an aid and no certified safety device: it stops nothing by itself, and a quiet page is no promise. Local codes, the makers'
manuals and licensed practice come first. High-pressure water cuts and injects through skin; any wound from it is an emergency.

`

// Markdown writes a handbook as a page for paper and for the repository.
func Markdown(h *dashboard.Handbook) string {
	var b strings.Builder
	fmt.Fprintf(&b, intro, h.Machine)
	terms(&b, "Levels", h.Levels)
	terms(&b, "What an alarm can be", h.Phases)
	b.WriteString("## Alarms of the rules\n\n")
	for i := range h.Entries {
		writeEntry(&b, &h.Entries[i])
	}
	writeSensors(&b, &h.Sensors)
	return b.String()
}

func terms(b *strings.Builder, title string, ts []dashboard.HandbookTerm) {
	fmt.Fprintf(b, "## %s\n\n", title)
	for _, t := range ts {
		fmt.Fprintf(b, "* **%s**: %s\n", t.Word, t.Meaning)
	}
	b.WriteString("\n")
}

func writeEntry(b *strings.Builder, e *dashboard.HandbookEntry) {
	fmt.Fprintf(b, "### %s\n\n`%s`: %s\n\n", e.Label, e.Rule, e.Judges)
	if e.Off != "" {
		fmt.Fprintf(b, "**%s**\n\n", e.Off)
	}
	for i := range e.Stages {
		writeStage(b, &e.Stages[i])
	}
	line(b, "Usually behind it", e.Cause)
	line(b, "If nothing is done", e.Consequence)
	line(b, "Goes back", because(e.GoesBack, e.GoesBackWhy))
	line(b, "Judged while", e.Applies)
	line(b, "Put aside by design while", e.Suppressed)
	line(b, "May stand under", list(e.Under))
	line(b, "May have under it", list(e.Over))
	line(b, "Limits from", e.Source)
	b.WriteString("\n")
}

func writeStage(b *strings.Builder, st *dashboard.HandbookStage) {
	fmt.Fprintf(b, "* **%s: %s** (`%s`)\n", st.Level, st.Title, st.Alarm)
	fmt.Fprintf(b, "  * do: %s\n", st.Response)
	fmt.Fprintf(b, "  * comes at: %s, delay %s\n", st.Limit, because(st.Delay, st.DelayWhy))
	fmt.Fprintf(b, "  * latches: %s\n", st.Latch)
}

func writeSensors(b *strings.Builder, s *dashboard.HandbookSensors) {
	b.WriteString("## Alarms of the sensors\n\nThey share cause, consequence and response. Sensors on one bus, port or chip that go at the same moment stand under the first of them.\n\n")
	line(b, "Usually behind it", s.Cause)
	line(b, "If nothing is done", s.Consequence)
	line(b, "Do", s.Response)
	line(b, "Delay", because(s.Delay, s.DelayWhy))
	line(b, "Goes back after", because(s.GoesBack, s.GoesBackWhy))
	b.WriteString("* Judged in every state of the machine; latches: no\n\n| alarm | title | level |\n|---|---|---|\n")
	for _, r := range s.Rows {
		fmt.Fprintf(b, "| `%s` | %s | %s |\n", r.Alarm, strings.ReplaceAll(r.Title, "|", `\|`), r.Level)
	}
	if len(s.OnlyShown) > 0 {
		fmt.Fprintf(b, "\nShown and recorded, but judged by no rule, unless `normal.channels` names them for departure: %s.\n", strings.Join(s.OnlyShown, "; "))
	}
}

func line(b *strings.Builder, what, text string) { fmt.Fprintf(b, "* %s: %s\n", what, text) }

// because puts a reason behind what it is the reason of.
func because(text, why string) string {
	if why == "" {
		return text
	}
	return text + " (" + why + ")"
}

func list(names []string) string {
	if len(names) == 0 {
		return "nothing"
	}
	return strings.Join(names, ", ")
}
