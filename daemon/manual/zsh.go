package manual

import (
	"fmt"
	"strings"
)

// Zsh is the completion for zsh, to lie in a folder of its fpath.
func (p *Program) Zsh() string {
	var b strings.Builder
	fmt.Fprintf(&b, zshHead, p.alternatives())
	root := p.root()
	for _, c := range append([]Command{root}, p.Commands...) {
		p.zshCommand(&b, &c)
	}
	b.WriteString(zshTail)
	return b.String()
}

func (p *Program) zshCommand(b *strings.Builder, c *Command) {
	fmt.Fprintf(b, "\t%s)\n", shellQuote(c.Name))
	if next := p.next(c); len(next) > 0 {
		b.WriteString("\t\tnext=(\n")
		for _, w := range next {
			fmt.Fprintf(b, "\t\t\t%s\n", shellQuote(zshEscape(w)+p.helpOf(c, w)))
		}
		b.WriteString("\t\t)\n")
	}
	b.WriteString("\t\t_arguments")
	for i := range c.Flags {
		f := &c.Flags[i]
		spec := "-" + f.Name + "[" + zshEscape(f.Usage) + "]"
		if t := f.takes(); t != nothing {
			spec += ":" + zshEscape(f.Arg) + ":" + [...]string{anything: " ", files: "_files", folders: "_files -/"}[t]
		}
		fmt.Fprintf(b, " \\\n\t\t\t%s", shellQuote(spec))
	}
	if len(p.next(c)) > 0 {
		b.WriteString(" \\\n\t\t\t'1: :->next'")
	}
	if c.Files {
		b.WriteString(" \\\n\t\t\t'*:file:_files'")
	}
	b.WriteString("\n\t\t;;\n")
}

// helpOf is what is shown beside a word, after a colon.
func (p *Program) helpOf(c *Command, word string) string {
	name := strings.TrimSpace(c.Name + " " + word)
	for i := range p.Commands {
		if p.Commands[i].Name == name && p.Commands[i].Help != "" {
			return ":" + p.Commands[i].Help
		}
	}
	return ""
}

// zshEscape keeps a text from ending its part of a specification.
func zshEscape(s string) string {
	return strings.NewReplacer(`\`, `\\`, `:`, `\:`, `[`, `\[`, `]`, `\]`).Replace(s)
}

const zshHead = `#compdef headroom
# Completion of headroom for zsh. Written by "headroom docs"; don't edit.

_headroom() {
	local at='' state i typed
	local -a next
	# The longest run of words that is a command.
	for ((i = 2; i < CURRENT; i++)); do
		typed="${at:+$at }${words[i]}"
		case $typed in
		%s) at=$typed ;;
		*) break ;;
		esac
	done
	# _arguments sees what comes after them.
	words=(headroom "${(@)words[i,-1]}")
	((CURRENT -= i - 2))
	case $at in
`

const zshTail = `	esac
	if [[ $state == next ]]; then
		_describe word next
	fi
}

_headroom "$@"
`
