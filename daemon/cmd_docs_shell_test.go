package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
)

// completed is what a shell must offer at the end of a line. A file of that
// name and a folder lie where the shell runs.
var completed = []struct {
	line string
	want []string
	not  []string
}{
	{"headroom re", []string{"replay", "record"}, []string{"run"}},
	{"headroom record ", []string{"list", "export", "journal"}, []string{"replay"}},
	{"headroom record export -", []string{"-boot", "-from", "-o"}, []string{"-speed"}},
	{"headroom advise su", []string{"supply"}, []string{"line"}},
	{"headroom advise supply -st", []string{"-static"}, nil},
	{"headroom -sp", []string{"-speed"}, nil},
	{"headroom calibrate inl", []string{"inlet_pressure", "inlet_pulsation"}, []string{"flow"}},
	{"headroom service d", []string{"done"}, nil},
	{"headroom run -config my", []string{"my.toml"}, []string{"replay"}},
	{"headroom check my", []string{"my.toml"}, nil},
	{"headroom run -record my", []string{"my-folder"}, []string{"my.toml"}},
}

// workplace has something to complete.
func workplace(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "my.toml"), nil, 0o644))
	require.NoError(t, os.Mkdir(filepath.Join(dir, "my-folder"), 0o755))
	return dir
}

// asks runs one shell on one line and holds what it offers, a word at the
// beginning of each line, against the table.
func asks(t *testing.T, shell func(line string) *exec.Cmd) {
	t.Helper()
	for _, c := range completed {
		cmd := shell(c.line)
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, "%s: %s", c.line, out)
		var got []string
		for l := range strings.Lines(string(out)) {
			word, _, _ := strings.Cut(strings.TrimSpace(l), "\t")
			got = append(got, strings.TrimSuffix(word, "/"))
		}
		for _, w := range c.want {
			require.Contains(t, got, w, c.line)
		}
		for _, w := range c.not {
			require.NotContains(t, got, w, c.line)
		}
	}
}

// bashAsks loads the completion as an interactive bash does, through Debian's
// bash-completion from the folder of the user's own ones.
const bashAsks = `
BASH_COMPLETION_USER_DIR=$1
. /usr/share/bash-completion/bash_completion
_completion_loader headroom || [ $? = 124 ] || exit 3
declare -F _headroom >/dev/null || exit 4
IFS=' ' read -r -a COMP_WORDS <<<"$2"
[[ $2 != *' ' ]] || COMP_WORDS+=('')
COMP_CWORD=$((${#COMP_WORDS[@]} - 1)) COMP_LINE=$2 COMP_POINT=${#2}
_headroom
printf '%s\n' "${COMPREPLY[@]}"`

func TestBashCompletes(t *testing.T) {
	bash := testneed.Program(t, "bash", "bash")
	if _, err := os.Stat("/usr/share/bash-completion/bash_completion"); err != nil {
		testneed.Missing(t, "needs bash-completion (Debian package bash-completion)")
	}
	user, at := t.TempDir(), workplace(t)
	require.NoError(t, os.CopyFS(filepath.Join(user, "completions"), os.DirFS(filepath.Join(docs(t), "bash"))))
	asks(t, func(line string) *exec.Cmd {
		cmd := exec.Command(bash, "--norc", "-c", bashAsks, "bash", user, line)
		cmd.Dir = at
		return cmd
	})
}

func TestFishCompletes(t *testing.T) {
	fish := testneed.Program(t, "fish", "fish")
	file, at := filepath.Join(docs(t), "fish", "headroom.fish"), workplace(t)
	asks(t, func(line string) *exec.Cmd {
		cmd := exec.Command(fish, "--no-config", "-c", "source $argv[1]; complete -C $argv[2]", file, line)
		cmd.Dir = at
		cmd.Env = append(os.Environ(), "HOME="+at)
		return cmd
	})
}

// zshAsks types the line and a tab into a zsh on a terminal of its own. A
// function in compadd's place writes down what fits: -O, -A and -D are calls of
// the completion system's own, which add nothing.
const zshAsks = `
zmodload zsh/zpty || exit 3
rm -f $3/fits
print -r -- '
PROMPT=
fpath=('$1' $fpath)
autoload -Uz compinit; compinit -u -d '$3/dump'
bindkey "^I" complete-word
compadd() {
	local -a fit
	if [[ -z ${(M)@:#-[OAD]} ]]; then
		builtin compadd -O fit "$@"
		(( $#fit )) && print -rl -- $fit >>'$3/fits'
	fi
	builtin compadd "$@"
}
comppostfuncs=(ended)
ended() { print END >>'$3/fits' }
print READY' >$3/rc
zpty z zsh -f -i
zpty -w z "source $3/rc"
zpty -r -m z out '*READY*' || exit 4
zpty -w -n z "$2"$'\t'
for i in {1..400}; do
	[[ -s $3/fits && $(tail -n 1 $3/fits) == END ]] && break
	sleep 0.05
done
zpty -d z
cat $3/fits`

func TestZshCompletes(t *testing.T) {
	zsh := testneed.Program(t, "zsh", "zsh")
	folder, at, work := filepath.Join(docs(t), "zsh"), workplace(t), t.TempDir()
	asks(t, func(line string) *exec.Cmd {
		cmd := exec.Command(zsh, "-f", "-c", zshAsks, "zsh", folder, line, work)
		cmd.Dir = at
		return cmd
	})
}
