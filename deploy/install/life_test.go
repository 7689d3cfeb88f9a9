//go:build install

package install

import (
	"bufio"
	"database/sql"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	_ "modernc.org/sqlite" // the record's kind of database
)

const (
	configFile   = "/etc/headroom/config.toml"
	recordFolder = "/var/lib/headroom"
)

// TestLifeInABareRoot goes through everything that dpkg does to the package,
// where no systemd runs: as when a card's image is made.
func TestLifeInABareRoot(t *testing.T) {
	first, second := built(t, older), built(t, newer)
	defer took(t, "the life")()
	r := newRoot(t)

	out := r.do("dpkg", "-i", r.bring(first))
	require.Equal(t, "ii "+older, r.status(), out)
	r.installed()
	r.watches("Simulated: an invented machine")
	records := r.records()

	// An upgrade keeps what the owner wrote, without a question.
	owned := r.read(configFile) + "\n[machine]\nname = \"Trailer 7\"\n"
	r.write(configFile, owned)
	r.write("/etc/headroom/password", "secret")
	out = r.do("dpkg", "-i", r.bring(second))
	require.Equal(t, "ii "+newer, r.status(), out)
	require.Equal(t, owned, r.read(configFile))
	require.Equal(t, records, r.records(), "an upgrade leaves the record alone")
	r.watches("Trailer 7")

	// The way back is refused, with the reason, and nothing changes.
	r.refuses("/tmp/"+filepath.Base(first), "ii "+newer)
	require.Contains(t, r.do("headroom", "version"), "headroom "+newer+" ")

	// Removal keeps record and config, and the way back stays closed to them.
	records = r.records()
	r.do("dpkg", "--remove", "headroom")
	require.Equal(t, "rc "+newer, r.status())
	require.NoFileExists(t, r.path("/usr/bin/headroom"))
	require.Equal(t, owned, r.read(configFile))
	require.Equal(t, records, r.records())
	r.refuses("/tmp/"+filepath.Base(first), "ic "+newer) // wanted, not installed
	require.NoError(t, os.Rename(r.path(recordFolder), r.path(recordFolder+".aside")))
	r.do("dpkg", "-i", "/tmp/"+filepath.Base(first))
	require.Equal(t, "ii "+older, r.status(), "without a record there is nothing to lose")

	r.do("dpkg", "--purge", "headroom")
	require.Equal(t, "unknown", r.status())
	require.NoDirExists(t, r.path("/etc/headroom"))
	require.NoDirExists(t, r.path(recordFolder))
	require.DirExists(t, r.path(recordFolder+".aside"), "what was put aside is the owner's")
	require.NoFileExists(t, r.path("/etc/systemd/system/multi-user.target.wants/headroom.service"))
	require.Contains(t, r.read("/etc/passwd"), "headroom:", "the user keeps its number")
}

// installed looks at what an installation leaves.
func (r *root) installed() {
	r.t.Helper()
	require.Empty(r.t, r.do("dpkg", "--verify", "headroom"))
	groups := strings.Fields(r.do("id", "-nG", "headroom"))
	require.ElementsMatch(r.t, []string{"headroom", "i2c", "gpio", "dialout"}, groups)
	require.FileExists(r.t, r.path("/usr/share/man/man1/headroom.1.gz"))
	target, err := os.Readlink(r.path("/etc/systemd/system/multi-user.target.wants/headroom.service"))
	require.NoError(r.t, err, "the service is enabled for the next start")
	require.True(r.t, strings.HasSuffix(target, "/systemd/system/headroom.service"), target)
	require.Contains(r.t, r.do("headroom", "check", configFile), "good")
	require.Contains(r.t, r.do("stat", "-c", "%U:%G %a", recordFolder), "headroom:headroom 750")
}

// watches runs the daemon by hand as its user, as the service would, until its
// page has the words that are wanted.
func (r *root) watches(want string) {
	r.t.Helper()
	cmd := r.command("headroom", "/usr/bin/headroom", "run", "-config", configFile, "-listen", "127.0.0.1:0")
	out, err := cmd.StdoutPipe()
	require.NoError(r.t, err)
	var log strings.Builder
	cmd.Stderr = &log
	require.NoError(r.t, cmd.Start())
	defer func() { _ = cmd.Process.Kill() }()
	url := ""
	for sc := bufio.NewScanner(out); url == "" && sc.Scan(); {
		if _, rest, found := strings.Cut(sc.Text(), "Dashboard: "); found {
			url, _, _ = strings.Cut(rest, " ")
		}
	}
	require.NotEmpty(r.t, url, "it says where its dashboard is")
	time.Sleep(2 * time.Second) // of life, for the record
	require.Eventually(r.t, func() bool { return strings.Contains(fetched(url), want) }, 30*time.Second, 200*time.Millisecond, want)
	require.NoError(r.t, cmd.Process.Signal(syscall.SIGTERM))
	require.NoError(r.t, cmd.Wait(), "%s", log.String())
	require.NotEmpty(r.t, r.do("find", recordFolder, "-name", "record*", "-size", "+0", "-user", "headroom"), "it has recorded")
}

// fetched is a page; empty where there is none.
func fetched(url string) string {
	res, err := http.Get(url)
	if err != nil {
		return ""
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK {
		return ""
	}
	return string(text)
}

// refuses tries the older package.
func (r *root) refuses(deb, status string) {
	r.t.Helper()
	out, err := r.try("dpkg", "-i", deb)
	require.Error(r.t, err)
	require.Contains(r.t, out, "headroom "+older+" is older than "+newer)
	require.Contains(r.t, out, "To go back all the same")
	require.Equal(r.t, status, r.status())
}

// records is the record's files with their sizes; the files come and go with
// the program alone.
func (r *root) records() (files []string) {
	r.t.Helper()
	list := r.do("find", recordFolder, "-type", "f", "-printf", "%P %s %T@\n")
	files = strings.Split(strings.TrimSpace(list), "\n")
	require.NotEmpty(r.t, files)
	return files
}

// TestRecordOfANewerProgram: where dpkg was got round, as by another card, the
// program itself leaves what a newer one wrote untouched, says so, and watches.
func TestRecordOfANewerProgram(t *testing.T) {
	r := newRoot(t)
	r.do("dpkg", "-i", r.bring(built(t, older)))
	r.watches("Simulated")
	db, err := sql.Open("sqlite", r.path(recordFolder+"/record.db"))
	require.NoError(t, err)
	defer db.Close()
	_, err = db.Exec("PRAGMA user_version = 99")
	require.NoError(t, err)
	r.watches("a newer program made it")
	var version int
	require.NoError(t, db.QueryRow("PRAGMA user_version").Scan(&version))
	require.Equal(t, 99, version)
}

// TestOwnersConfigSurvivesANewDefault: where both the owner and a
// new version changed the config, dpkg asks; without an answer the owner's stays.
func TestOwnersConfigSurvivesANewDefault(t *testing.T) {
	first := built(t, older)
	r := newRoot(t)
	r.do("dpkg", "-i", r.bring(first))
	mine := "[simulator]\non = true\n# mine\n"
	r.write(configFile, mine)
	// The newer package with another default.
	r.bring(built(t, newer))
	r.do("dpkg-deb", "-R", "/tmp/headroom_"+newer+"_amd64.deb", "/tmp/unpacked")
	r.write("/tmp/unpacked"+configFile, "[simulator]\non = true\n# a new default\n")
	r.do("dpkg-deb", "--root-owner-group", "-Znone", "--build", "/tmp/unpacked", "/tmp/changed.deb")
	r.do("dpkg", "--force-confdef", "--force-confold", "-i", "/tmp/changed.deb")
	require.Equal(t, "ii "+newer, r.status())
	require.Equal(t, mine, r.read(configFile))
	require.Contains(t, r.read(configFile+".dpkg-dist"), "a new default")
}
