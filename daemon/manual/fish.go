package manual

import (
	"fmt"
	"strings"
)

// Fish is the completion for fish.
func (p *Program) Fish() string {
	var b strings.Builder
	names := make([]string, len(p.Commands))
	for i := range p.Commands {
		names[i] = shellQuote(p.Commands[i].Name)
	}
	fmt.Fprintf(&b, fishHead, strings.Join(names, " "))
	root := p.root()
	for _, c := range append([]Command{root}, p.Commands...) {
		p.fishCommand(&b, &c)
	}
	return b.String()
}

func (p *Program) fishCommand(b *strings.Builder, c *Command) {
	begin := "complete -c headroom -n " + fishQuote("__headroom_at "+fishQuote(c.Name))
	for _, w := range p.next(c) {
		fmt.Fprintf(b, "%s -f -a %s%s\n", begin, fishQuote(w), described(strings.TrimPrefix(p.helpOf(c, w), ":")))
	}
	for i := range c.Flags {
		f := &c.Flags[i]
		takes := [...]string{nothing: "", anything: " -x", files: " -r -F", folders: ` -x -a '(__fish_complete_directories)'`}[f.takes()]
		fmt.Fprintf(b, "%s -o %s%s%s\n", begin, f.Name, takes, described(f.Usage))
	}
	if c.Files {
		fmt.Fprintf(b, "%s -F\n", begin)
	}
}

func described(text string) string {
	if text == "" {
		return ""
	}
	return " -d " + fishQuote(text)
}

// fishQuote makes one word of a text: in fish's single quotes a backslash
// escapes itself and the quote.
func fishQuote(s string) string {
	return "'" + strings.NewReplacer(`\`, `\\`, `'`, `\'`).Replace(s) + "'"
}

const fishHead = `# Completion of headroom for fish. Written by "headroom docs"; don't edit.

# The command that was typed is the longest run of words that is one.
function __headroom_at --description 'Whether this command was typed'
    set -l at ''
    for word in (commandline -opc)[2..-1]
        set -l longer (string trim -- "$at $word")
        contains -- "$longer" %s
        or break
        set at $longer
    end
    test "$at" = "$argv[1]"
end

complete -c headroom -f
`
