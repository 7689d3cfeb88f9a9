package medium

import (
	"bufio"
	"io"
	"strings"
)

// mount is one line of the kernel's table of mounts.
type mount struct {
	point, kind, upper string
}

// mountOf finds the mount that a path lies on, in a table as Linux writes it in
// /proc/self/mountinfo (proc_pid_mountinfo(5)). Of two at the same place the
// later one hides the earlier. ok is false where none holds the path.
func mountOf(table io.Reader, path string) (m mount, ok bool) {
	lines := bufio.NewScanner(table)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		got, good := parseMount(lines.Text())
		if good && holds(got.point, path) && len(got.point) >= len(m.point) {
			m, ok = got, true
		}
	}
	return m, ok
}

func holds(point, path string) bool {
	return point == "/" || path == point || strings.HasPrefix(path, point+"/")
}

// parseMount reads "36 35 98:0 /root /point rw,opts tag:1 - type source rw,opts".
func parseMount(line string) (m mount, ok bool) {
	left, right, ok := strings.Cut(line, " - ")
	before, after := strings.Fields(left), strings.Fields(right)
	if !ok || len(before) < 6 || len(after) < 2 {
		return mount{}, false
	}
	m.point, m.kind = unescape(before[4]), after[0]
	if len(after) > 2 {
		for opt := range strings.SplitSeq(after[2], ",") {
			if dir, is := strings.CutPrefix(opt, "upperdir="); is {
				m.upper = unescape(dir)
			}
		}
	}
	return m, true
}

// unescape undoes the kernel's octal escapes of white space and backslash.
func unescape(s string) string {
	return strings.NewReplacer(`\040`, " ", `\011`, "\t", `\012`, "\n", `\134`, `\`).Replace(s)
}
