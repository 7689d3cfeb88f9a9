// Package systemd_test holds the service's files against the programs that read
// them, and against each other.
package systemd_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/deploy/testneed"
)

func read(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(name)
	require.NoError(t, err)
	return string(text)
}

// setting returns every value of one key of the unit, in order.
func setting(t *testing.T, key string) (values []string) {
	t.Helper()
	for _, m := range regexp.MustCompile(`(?m)^`+key+`=(.*)$`).FindAllStringSubmatch(read(t, "headroom.service"), -1) {
		values = append(values, m[1])
	}
	return values
}

// TestExposure: the tool counts what a service could do to the machine, from 0
// to 10; its threshold is in tenths.
func TestExposure(t *testing.T) {
	analyze := testneed.Program(t, "systemd", "systemd-analyze")
	out, err := exec.Command(analyze, "security", "--offline=true", "--no-pager", "--threshold=20", "headroom.service").CombinedOutput()
	require.NoError(t, err, "%s", out)
	t.Log(strings.TrimSpace(string(out[strings.LastIndex(string(out), "→"):])))
	out, err = exec.Command(analyze, "security", "--offline=true", "--no-pager", "--threshold=5", "headroom.service").CombinedOutput()
	require.Error(t, err, "a threshold that nothing meets: %s", out)
}

// TestUnitIsUnderstood: systemd names keys that it doesn't know and values that
// it can't use. The program itself isn't installed here, nor its manual.
func TestUnitIsUnderstood(t *testing.T) {
	analyze := testneed.Program(t, "systemd", "systemd-analyze")
	root := t.TempDir()
	text := strings.Replace(read(t, "headroom.service"), "ExecStart=/usr/bin/headroom ", "ExecStart=/bin/true ", 1)
	path := filepath.Join(root, "headroom.service")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	out, _ := exec.Command(analyze, "verify", "--man=no", path).CombinedOutput()
	for l := range strings.Lines(string(out)) {
		require.NotContains(t, l, "headroom.service", "%s", out)
	}
	require.NoError(t, os.WriteFile(path, []byte(text+"\n[Service]\nNoSuchKey=1\n"), 0o644))
	out, _ = exec.Command(analyze, "verify", "--man=no", path).CombinedOutput()
	require.Contains(t, string(out), "NoSuchKey", "the tool finds what is wrong")
}

// TestUserHasTheUnitsGroups: a group that nobody makes keeps the service from
// starting at all (status 216).
func TestUserHasTheUnitsGroups(t *testing.T) {
	users := read(t, "sysusers.conf")
	require.Equal(t, []string{"headroom"}, setting(t, "User"))
	for _, g := range strings.Fields(setting(t, "SupplementaryGroups")[0]) {
		require.Regexp(t, `(?m)^g `+g+`\s`, users)
		require.Regexp(t, `(?m)^m headroom `+g+`$`, users)
	}
	for _, m := range regexp.MustCompile(`GROUP="([^"]+)"`).FindAllStringSubmatch(read(t, "udev.rules"), -1) {
		require.Contains(t, setting(t, "SupplementaryGroups")[0], m[1])
	}
}

func TestSysusers(t *testing.T) {
	sysusers := testneed.Program(t, "systemd", "systemd-sysusers")
	root := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(root, "etc"), 0o755))
	conf, err := filepath.Abs("sysusers.conf")
	require.NoError(t, err)
	for range 2 { // a second time changes nothing
		out, err := exec.Command(sysusers, "--root="+root, conf).CombinedOutput()
		require.NoError(t, err, "%s", out)
	}
	require.Regexp(t, `(?m)^headroom:x:\d+:\d+:[^:]*:/var/lib/headroom:/usr/sbin/nologin$`, read(t, filepath.Join(root, "etc", "passwd")))
	for _, g := range []string{"i2c", "gpio", "dialout"} {
		require.Regexp(t, `(?m)^`+g+`:x:\d+:headroom$`, read(t, filepath.Join(root, "etc", "group")))
	}
}

// TestUnitKeepsTrying: a start that fails is tried for ever, and a tick that
// stands still ends the program. What these do deploy/install shows.
func TestUnitKeepsTrying(t *testing.T) {
	require.Equal(t, []string{"notify"}, setting(t, "Type"))
	require.Equal(t, []string{"main"}, setting(t, "NotifyAccess"))
	require.Equal(t, []string{"10"}, setting(t, "WatchdogSec"))
	require.Equal(t, []string{"always"}, setting(t, "Restart"))
	require.Equal(t, []string{"0"}, setting(t, "StartLimitIntervalSec"))
}

// TestConfigSimulates: the installed config has no mistake, simulates until
// real sensors are set, serves this computer only and keeps the service's own
// record.
func TestConfigSimulates(t *testing.T) {
	cfg, err := config.Load("config.toml")
	require.NoError(t, err)
	require.True(t, cfg.Simulator.On)
	require.False(t, cfg.Sensors.Any())
	require.Equal(t, "127.0.0.1:8080", cfg.Listen)
	require.Equal(t, "/var/lib/"+setting(t, "StateDirectory")[0], cfg.Record.Folder)
	require.Contains(t, setting(t, "ExecStart")[0], "-config /etc/headroom/config.toml")
}
