package imported_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/daemon/imported"
	"headroom/daemon/store"
	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

const text = "t,flow\n0,1e-4\n1,x\n2,1e-4\n3,1e-4\n"

func options() imported.Options {
	return imported.Options{
		Config: config.Default(), ConfigText: []byte("# invented\n"), Software: "0.0.0-test", Machine: "borrowed, invented",
		Map: csvfile.Map{Time: csvfile.TimeColumn{Column: "t"}, Columns: []csvfile.Column{{Name: "flow", Channel: frame.Flow}}},
	}
}

func foreign(t *testing.T) string {
	path := filepath.Join(t.TempDir(), "log.csv")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	return path
}

func TestABootSaysWhereItComesFrom(t *testing.T) {
	dir := t.TempDir()
	told := 0
	o := options()
	o.OnProblem = func(csvfile.RowError) { told++ }
	res, err := imported.File(context.Background(), dir, foreign(t), o)
	require.NoError(t, err)
	require.EqualValues(t, 4, res.Frames, "a bad cell costs its channel only")
	require.Equal(t, 1, told)
	sum := sha256.Sum256([]byte(text))
	require.Equal(t, store.Source{Name: "log.csv", SHA256: hex.EncodeToString(sum[:])}, res.Source)
	r, err := store.OpenReader(dir)
	require.NoError(t, err)
	defer r.Close()
	boots, err := r.Boots(context.Background())
	require.NoError(t, err)
	require.Len(t, boots, 1)
	require.Equal(t, res.Source, boots[0].Source)
	require.Equal(t, "borrowed, invented", boots[0].Machine)
	config, ok, err := r.Config(context.Background(), boots[0].ConfigHash)
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, "# invented\n", string(config))
	life, err := r.Life(context.Background())
	require.NoError(t, err)
	require.Zero(t, life.Frames)
}

// A file from elsewhere must neither forge lines of the journal nor reach the
// terminal that prints them.
func TestTextsOfAnExportAreMadePlain(t *testing.T) {
	path := filepath.Join(t.TempDir(), "evil\x1b[2J.csv")
	require.NoError(t, os.WriteFile(path, []byte("# headroom recording 1\n# machine: a\x1b[31mb\u202e\n"+
		`# act: {"t_ns":1,"what":"note\u001b]0;x\u0007","who":"A\u001b[2Jda","text":"one\nFORGED two"}`+"\n"+
		"t_ns,wall,flow_m3s,flow_status\n1,,1e-4,good\n2,,1e-4,good\n"), 0o644))
	dir := t.TempDir()
	o := options()
	o.Machine = ""
	_, err := imported.File(context.Background(), dir, path, o)
	require.NoError(t, err)
	r, err := store.OpenReader(dir)
	require.NoError(t, err)
	defer r.Close()
	boots, err := r.Boots(context.Background())
	require.NoError(t, err)
	require.Equal(t, "a[31mb", boots[0].Machine)
	require.Equal(t, "evil[2J.csv", boots[0].Source.Name)
	acts, err := r.Acts(context.Background(), store.RunID{Boot: 1})
	require.NoError(t, err)
	require.Equal(t, []string{"note]0;x", "A[2Jda", "one FORGED two"}, []string{acts[0].What, acts[0].Who, acts[0].Text})
}

// Of a boot the record looks for what came after its start: rows before would be
// in it, and in no export of it.
func TestRowsBeforeTheStartAreRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "early.csv")
	require.NoError(t, os.WriteFile(path, []byte("t_ns,wall,flow_m3s,flow_status\n-5,,1e-4,good\n2,,1e-4,good\n"), 0o644))
	_, err := imported.File(context.Background(), t.TempDir(), path, options())
	require.ErrorContains(t, err, "before the start")
}

func TestAllOrNothing(t *testing.T) {
	stopped, stop := context.WithCancel(context.Background())
	stop()
	strict := options()
	strict.Strict = true
	for want, do := range map[string]func(dir string) error{
		"is no number": func(dir string) error {
			_, err := imported.File(context.Background(), dir, foreign(t), strict)
			return err
		},
		"canceled": func(dir string) error {
			_, err := imported.File(stopped, dir, foreign(t), options())
			return err
		},
		"cannot open": func(dir string) error {
			_, err := imported.File(context.Background(), dir, filepath.Join(dir, "none"), options())
			return err
		},
		"no config": func(dir string) error {
			o := options()
			o.Config = nil
			_, err := imported.File(context.Background(), dir, foreign(t), o)
			return err
		},
	} {
		dir := t.TempDir()
		require.ErrorContains(t, do(dir), want)
		files, err := os.ReadDir(dir)
		require.NoError(t, err)
		require.Empty(t, files)
	}
}
