package manual

import (
	"fmt"
	"strings"
	"time"
)

// CommandsPage is headroom(1).
func (p *Program) CommandsPage() string {
	var r roff
	p.head(&r, "HEADROOM", "1")
	r.line("SH", "NAME")
	r.WriteString("headroom \\- watch a jetter\\(aqs pump and say how much room is left\n")
	r.line("SH", "SYNOPSIS")
	r.WriteString(bold("headroom") + " [" + italic("command") + "] [" + italic("flags") + "]\n")
	r.line("SH", "DESCRIPTION")
	r.text(about)
	r.line("SH", "COMMANDS")
	r.text("Flags go before what isn't one. Without a command, run is meant.")
	for i := range p.Commands {
		p.Commands[i].write(&r)
	}
	tail(&r)
	return r.String()
}

func (p *Program) head(r *roff, title, section string) {
	// A date with escaped hyphens would be none.
	fmt.Fprintf(r, ".TH %s %s %s \"headroom %s\" headroom\n", title, section, p.Date.UTC().Format(time.DateOnly), escape(p.Version))
}

func (c *Command) write(r *roff) {
	r.line("SS", strings.TrimSpace("headroom "+c.Name+" "+c.Args))
	r.text(sentence(c.Help))
	for _, f := range c.Flags {
		label := bold("-" + f.Name)
		if f.Arg != "" {
			label += " " + italic(f.Arg)
		}
		r.item(label)
		text := sentence(f.Usage)
		if f.Default != "" {
			text += " The default is " + f.Default + "."
		}
		r.text(text)
	}
}

// sentence makes a line of the help a sentence.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	return strings.TrimSuffix(strings.ToUpper(s[:1])+s[1:], ".") + "."
}

const about = `headroom reads inlet pressure, water temperature, flow, motor current and what else is fitted to a jetter, turns each limit into headroom (how far, and how long until), raises alarms that say what to do, records everything, and serves a local dashboard and metrics.
Without a config it simulates an invented machine, and says so on every page.`

const caution = `headroom is an aid and no certified safety device. It may fail, it may be wrong, and it replaces neither relief valve, breaker, ground fault interrupter nor attention. Local codes, the makers' manuals and licensed practice come first.`

// named is one entry of a list at a page's end.
type named struct{ name, text string }

var fileList = []named{
	{"/etc/headroom/config.toml", "The service's config. What it doesn't say holds as headroom config prints it."},
	{"/var/lib/headroom", "The service's record, with the PIN's hash, calibrations and the service book."},
	{"~/.local/state/headroom", "The record of whoever runs it by hand; below $XDG_STATE_HOME where that is set."},
}

var environmentList = []named{
	{"STATE_DIRECTORY", "Folder of the record where neither flag nor config names one. The service manager sets it."},
	{"NOTIFY_SOCKET, WATCHDOG_USEC, WATCHDOG_PID", "The service manager is told of readiness and of each sign of life, which the tick itself gives: when it stands still the manager starts the program anew."},
}

var exitList = []named{
	{"0", "Done."},
	{"1", "It could not be done; one line on standard error says what, and the mend."},
	{"2", "The command line was wrong."},
}

func list(r *roff, title string, entries []named) {
	r.line("SH", title)
	for _, e := range entries {
		r.item(bold(e.name))
		r.text(e.text)
	}
}

func tail(r *roff) {
	list(r, "FILES", fileList)
	list(r, "ENVIRONMENT", environmentList)
	list(r, "EXIT STATUS", exitList)
	r.line("SH", "EXAMPLES")
	r.text("The simulator on this computer, with its dashboard on http://127.0.0.1:8080/:")
	r.literal("headroom")
	r.text("As the installed service's own user: draw the PIN that changes on the dashboard need, and write the newest recording out.")
	r.literal("sudo -u headroom headroom pin new -config /etc/headroom/config.toml",
		"sudo -u headroom headroom record export -record /var/lib/headroom >job.csv")
	r.line("SH", "CAVEATS")
	r.text(caution)
	r.line("SH", "SEE ALSO")
	r.WriteString(".BR headroom.toml (5),\n.BR systemctl (1),\n.BR journalctl (1)\n")
}
