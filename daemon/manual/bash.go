package manual

import (
	"fmt"
	"strings"
)

// Bash is the completion for bash. It needs nothing but bash itself: where the
// package bash-completion is installed it is loaded from its folder, else a
// user sources it.
func (p *Program) Bash() string {
	var b strings.Builder
	fmt.Fprintf(&b, bashHead, p.alternatives())
	root := p.root()
	for _, c := range append([]Command{root}, p.Commands...) {
		p.bashCommand(&b, &c)
	}
	b.WriteString(bashMiddle)
	p.bashValues(&b, &root)
	for i := range p.Commands {
		p.bashValues(&b, &p.Commands[i])
	}
	b.WriteString(bashTail)
	return b.String()
}

// alternatives are all commands as a pattern of the shell.
func (p *Program) alternatives() string {
	names := make([]string, len(p.Commands))
	for i := range p.Commands {
		names[i] = shellQuote(p.Commands[i].Name)
	}
	return strings.Join(names, " | ")
}

func (p *Program) bashCommand(b *strings.Builder, c *Command) {
	fmt.Fprintf(b, "\t%s)\n\t\twords=%s\n\t\tflags=%s\n", shellQuote(c.Name), shellQuote(strings.Join(p.next(c), " ")), shellQuote(flagWords(c)))
	if c.Files {
		b.WriteString("\t\tfiles=yes\n")
	}
	b.WriteString("\t\t;;\n")
}

func flagWords(c *Command) string {
	words := make([]string, len(c.Flags))
	for i, f := range c.Flags {
		words[i] = "-" + f.Name
	}
	return strings.Join(words, " ")
}

// bashValues says what follows the command's flags that take a value.
func (p *Program) bashValues(b *strings.Builder, c *Command) {
	for t, do := range [...]string{anything: "return", files: "_headroom_paths -f", folders: "_headroom_paths -d"} {
		var names []string
		for i := range c.Flags {
			if c.Flags[i].takes() == takes(t) && do != "" {
				names = append(names, shellQuote(c.Name+" -"+c.Flags[i].Name))
			}
		}
		switch {
		case len(names) == 0:
		case do == "return":
			fmt.Fprintf(b, "\t%s) return ;;\n", strings.Join(names, " | "))
		default:
			fmt.Fprintf(b, "\t%s)\n\t\t%s\n\t\treturn\n\t\t;;\n", strings.Join(names, " | "), do)
		}
	}
}

// shellQuote makes one word of a text, for any shell of the three.
func shellQuote(s string) string {
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}

const bashHead = `# Completion of headroom for bash. Written by "headroom docs"; don't edit.

_headroom_paths() {
	compopt -o filenames 2>/dev/null
	mapfile -t COMPREPLY < <(compgen "$1" -- "$cur")
}

# _headroom_at finds the command that was typed: the longest run of words that
# is one.
_headroom_at() {
	local i next
	at=
	for ((i = 1; i < COMP_CWORD; i++)); do
		next=${at:+$at }${COMP_WORDS[i]}
		case $next in
		%s) at=$next ;;
		*) return ;;
		esac
	done
}

_headroom() {
	local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD - 1]}
	local at words='' flags='' files=''
	# bash cuts -flag=value at the sign.
	[ "$cur" != = ] || cur=
	[ "$prev" != = ] || prev=${COMP_WORDS[COMP_CWORD - 2]}
	COMPREPLY=()
	_headroom_at
	case $at in
`

const bashMiddle = `	esac
	case "$at $prev" in
`

const bashTail = `	esac
	case $cur in
	-*) mapfile -t COMPREPLY < <(compgen -W "$flags" -- "$cur") ;;
	*)
		if [ -n "$files" ]; then
			_headroom_paths -f
		fi
		mapfile -t -O "${#COMPREPLY[@]}" COMPREPLY < <(compgen -W "$words" -- "$cur")
		;;
	esac
}

complete -F _headroom headroom
`
