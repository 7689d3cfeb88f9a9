package main

import (
	"encoding/json"
	"os/exec"
	"path"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// layers says which of our packages each folder may import, test files left
// out. A folder's own subfolders are always allowed. DEVELOPERS.md draws the
// same picture; change both together.
var layers = []struct {
	folder  string
	imports []string
	why     string
}{
	{"rules", nil, "physics and judgement depend on nothing"},
	{"sensors", []string{"rules"}, "drivers know channels and physics, and nothing of the daemon"},
	{"daemon/snapshot", []string{"rules"}, "what the tick publishes is plain data"},
	{"daemon/config", []string{"rules"}, "a config is plain data"},
	{"daemon/advise", []string{"rules", "daemon/config"}, "advice needs a config and physics, no running daemon"},
	{"daemon/manual", []string{"rules", "daemon/config"}, "the manual describes what it is handed"},
	{"daemon/replay", []string{"rules"}, "a replay takes frames from whoever has them"},
	{"daemon/rerun", []string{"rules", "daemon/config", "daemon/record", "daemon/replay", "daemon/snapshot", "daemon/store"}, "a rerun is a replay out of the record"},
	{"daemon/review/recordtest", []string{"rules", "sensors", "daemon/config", "daemon/store", "deploy/testneed"}, "records for tests come from the simulator"},
	{"daemon/review", []string{"rules", "daemon/config", "daemon/replay", "daemon/store"}, "an account is told from the record alone"},
	{"daemon/whatif", []string{"rules", "daemon/config", "daemon/rerun", "daemon/store"}, "what if is two reruns side by side"},
	{"daemon/report", []string{"rules", "daemon/config", "daemon/review", "daemon/store", "daemon/wholefile", "dashboard/chart"}, "a report prints an account"},
	{"daemon/bench/rig", []string{"rules", "sensors", "daemon/bench"}, "the simulated bench knows plant and session"},
	{"daemon/bench", []string{"rules", "daemon/wholefile"}, "a test is fed frames by whoever has them"},
	{"daemon/medium", nil, "a medium is the kernel's business alone"},
	{"daemon/wholefile", nil, "one habit of writing files"},
	{"daemon/checklist", []string{"daemon/wholefile"}, "the list is plain data"},
	{"daemon/access", []string{"daemon/wholefile"}, "the PIN knows no page"},
	{"daemon/localtls", []string{"daemon/wholefile"}, "a certificate knows no page"},
	{"daemon/service", []string{"rules", "daemon/wholefile"}, "the service book is plain data"},
	{"daemon/record", []string{"rules"}, "a queue knows no file, no driver and no page"},
	{"daemon/metrics", []string{"rules", "daemon/snapshot"}, "metrics read snapshots"},
	{"daemon/remote", []string{"rules", "daemon/config", "daemon/record", "daemon/replay", "daemon/rerun", "daemon/snapshot", "daemon/store", "daemon/wholefile"}, "what is sent is read from the record and judged again"},
	{"daemon/notify", []string{"rules", "daemon/snapshot"}, "notifications read snapshots"},
	{"dashboard/webtest", []string{"deploy"}, "it drives a browser, for tests only"},
	{"dashboard", []string{"rules", "daemon/snapshot", "daemon/access", "daemon/checklist", "daemon/store", "daemon/review", "daemon/report", "daemon/whatif", "daemon/exported", "daemon/bench", "sensors/calibrate"}, "pages read snapshots and the record, ask the gate who may change, and drive dialogues that are plain data"},
	{"deploy", nil, "tools for packaging and tests"},
	{"daemon", []string{"rules", "sensors", "dashboard", "deploy"}, "the daemon wires everything"},
}

// owners says which outside packages may be imported where.
var owners = []struct {
	prefix  string
	folders []string
	why     string
}{
	{"periph.io/", []string{"sensors", "daemon/hardware"}, "hardware stays at the edge"},
	{"github.com/prometheus/", []string{"daemon/metrics", "daemon/remote"}, "one package owns the metrics, one sends them on"},
	{"github.com/pelletier/go-toml", []string{"daemon/config", "daemon/bench", "sensors/scenario"}, "one reader for each kind of file"},
	{"golang.org/x/crypto", []string{"daemon/access"}, "one package hashes the PIN"},
	{"github.com/parquet-go/", []string{"daemon/parquetfile"}, "one package knows the columns"},
	{"github.com/eclipse/paho", []string{"daemon/notify"}, "one package speaks MQTT"},
	{"net/http", []string{"dashboard", "daemon/app", "daemon/metrics", "daemon/notify", "daemon/remote"}, "only the web is on the web"},
}

type pkg struct {
	ImportPath string
	Imports    []string
}

func packages(t *testing.T) []pkg {
	cmd := exec.Command("go", "list", "-json=ImportPath,Imports", "headroom/...")
	out, err := cmd.Output()
	require.NoError(t, err, "go list")
	dec := json.NewDecoder(strings.NewReader(string(out)))
	var all []pkg
	for dec.More() {
		var p pkg
		require.NoError(t, dec.Decode(&p))
		all = append(all, p)
	}
	require.NotEmpty(t, all)
	return all
}

func under(p, folder string) bool { return p == folder || strings.HasPrefix(p, folder+"/") }

func anyUnder(p string, folders []string) bool {
	for _, f := range folders {
		if under(p, f) {
			return true
		}
	}
	return false
}

func TestImportsFollowTheLayers(t *testing.T) {
	for _, p := range packages(t) {
		me := strings.TrimPrefix(p.ImportPath, "headroom/")
		for _, im := range p.Imports {
			if !under(im, "headroom") {
				checkOwner(t, me, im)
				continue
			}
			checkLayer(t, me, strings.TrimPrefix(im, "headroom/"))
		}
	}
}

// checkLayer applies the first layer that holds the importing package.
func checkLayer(t *testing.T, me, im string) {
	for _, l := range layers {
		if !under(me, l.folder) {
			continue
		}
		if !under(im, l.folder) && !anyUnder(im, l.imports) {
			t.Errorf("%s imports %s: %s", me, im, l.why)
		}
		return
	}
	t.Errorf("%s stands in no layer: add its folder %q to layers and to DEVELOPERS.md", me, path.Dir(me))
}

func checkOwner(t *testing.T, me, im string) {
	for _, o := range owners {
		if strings.HasPrefix(im, o.prefix) && !anyUnder(me, o.folders) {
			t.Errorf("%s imports %s: %s", me, im, o.why)
		}
	}
}
