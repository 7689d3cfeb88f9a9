package main

import (
	"database/sql"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	_ "modernc.org/sqlite"
)

// loggerCSV is an invented log of somebody else's instrument: psi, gpm, °F and
// a decimal comma, twice a second, with a supply that gives way.
func loggerCSV(t *testing.T) string {
	var b strings.Builder
	b.WriteString("Time;Inlet, psi;Flow gpm;Water F;Amps\n")
	for i := range 1200 {
		inlet, on := 40.0, 1.0
		if i > 500 && i < 900 {
			inlet = 5
		}
		if i > 1000 {
			on = 0
		}
		noise := math.Sin(float64(i) * 78.233)
		row := fmt.Sprintf("2026-05-04 09:%02d:%02d.%d;%.2f;%.3f;%.1f;%.2f\n", 30+i/120, i/2%60, i%2*5, inlet+noise, on*(2+noise/50), 60+noise/9, on*(14+noise/5))
		b.WriteString(strings.ReplaceAll(row, ".", ","))
	}
	return write(t, "logger.csv", b.String())
}

// importArgs is how that log is taken in.
func importArgs(dir, path string) []string {
	return []string{"record", "import", "-record", dir, "-delimiter", ";", "-decimal", ",", "-machine", "borrowed, invented",
		"-time", "Time=YYYY-MM-DD hh:mm:ss", "-map", "Inlet, psi=inlet_pressure:psi", "-map", "Flow gpm=flow:gpm",
		"-map", "Water F=water_temp:°F", "-map", "Amps=motor_current:A", path}
}

func mustCall(t *testing.T, args ...string) (out, errs string) {
	t.Helper()
	code, out, errs := call(t, args...)
	require.Equal(t, exitOK, code, "%v: %s%s", args, out, errs)
	return out, errs
}

var digestLine = regexp.MustCompile(`Verdict digest \(SHA-256 over every verdict\): ([0-9a-f]{64})`)

func digestOf(t *testing.T, out string) string {
	t.Helper()
	found := digestLine.FindStringSubmatch(out)
	require.NotNil(t, found, out)
	return found[1]
}

// TestARecordingGoesInAndOutAgain takes a foreign log in, and its runs out in
// every format: each replay gives the same verdicts.
func TestARecordingGoesInAndOutAgain(t *testing.T) {
	dir := t.TempDir()
	out, errs := mustCall(t, importArgs(dir, loggerCSV(t))...)
	require.Contains(t, out, "as boot 1: 1200 frames over 10 min")
	require.Contains(t, out, "0 rows left out")
	require.Empty(t, errs)

	out, _ = mustCall(t, "record", "list", "-record", dir)
	require.Contains(t, out, "1.1")
	require.Contains(t, out, "borrowed, invented")
	require.Contains(t, out, "imported from logger.csv")
	require.NotContains(t, out, "Without a run")

	for _, run := range []string{"1.1", "1"} {
		out, _ = mustCall(t, "replay", "-digest", "-record", dir, "-run", run)
		want := digestOf(t, out)
		require.Contains(t, out, "Inlet pressure")
		for _, name := range []string{"out.csv", "out.parquet"} {
			path := filepath.Join(t.TempDir(), name)
			_, errs = mustCall(t, "record", "export", "-record", dir, "-run", run, "-o", path)
			require.Contains(t, errs, "wrote "+path+": ")
			require.Contains(t, errs, "the config in force is in it")
			out, _ = mustCall(t, "replay", "-digest", path)
			require.Equal(t, want, digestOf(t, out), "%s of %s", name, run)
			// And into another record, and out of that.
			other := t.TempDir()
			mustCall(t, "record", "import", "-record", other, path)
			out, _ = mustCall(t, "record", "verify", "-record", other, "-replay")
			require.Contains(t, out, "boot 1: the same verdicts to the last bit")
		}
	}
	out, _ = mustCall(t, "record", "export", "-record", dir, "-alone", "-run", "1.1")
	require.Contains(t, out, "# lead_in: none")
	out, _ = mustCall(t, "record", "life", "-record", dir)
	require.Contains(t, out, "energy (volts times amps)", "apparent energy, as everywhere else")
	require.Regexp(t, `starts +0\n`, out, "an import is nobody's life")
}

// What a boot was judged by is in the record, also where that is the default.
func TestAnImportUnderTheDefaultConfigKeepsIt(t *testing.T) {
	dir, path := t.TempDir(), write(t, "bare.csv", "t_ns,wall,flow_m3s,flow_status\n0,,1e-4,good\n1000000000,,1e-4,good\n2000000000,,1e-4,good\n")
	mustCall(t, "record", "import", "-record", dir, path)
	out, _ := mustCall(t, "record", "verify", "-record", dir, "-replay")
	require.Contains(t, out, "boot 1: the same verdicts to the last bit")
}

func TestImportsSayWhatIsWrong(t *testing.T) {
	dir, path := t.TempDir(), loggerCSV(t)
	args := func(flags ...string) []string {
		return append(append([]string{"record", "import", "-record", dir}, flags...), path)
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{args(), "a map of its columns is needed"},
		{args("-time", "Time=s"), "at least one -map"},
		{args("-map", "Amps=motor_current:A"), "needs -time"},
		{args("-time", "Time", "-map", "Amps=motor_current:A"), "names no format"},
		{args("-time", "Time=s", "-map", "Amps"), "is not whole"},
		{args("-time", "Time=s", "-map", "Amps=motor:A"), `"motor"`},
		{args("-time", "Time=s", "-map", "Amps=motor_current:psi"), "psi"},
		{args("-time", "Time=YYYY-MM-DD hh:mm:ss", "-map", "Amps=motor_current:A"), `write delimiter = ";"`},
		{args("-delimiter", ";", "-time", "Time=s", "-map", "Amps=motor_current:A"), "no row of it could be used"},
		{args("-config", filepath.Join(dir, "none.toml")), "none.toml"},
		{[]string{"record", "import", "-record", dir, filepath.Join(dir, "none.csv")}, "none.csv"},
	} {
		code, out, errs := call(t, c.args...)
		require.Equal(t, exitError, code, "%v: %s", c.args, out)
		require.Contains(t, errs, c.want)
	}
	code, _, errs := call(t, "record", "list", "-record", dir)
	require.Equal(t, exitError, code, "nothing came in")
	require.Contains(t, errs, "name its folder with -record")
	code, _, errs = call(t, "record", "import")
	require.Equal(t, exitUsage, code)
	require.Contains(t, errs, "usage: headroom record import")
}

// TestVerifyNamesTheFirstBreak, and what it proves.
func TestVerifyNamesTheFirstBreak(t *testing.T) {
	dir := t.TempDir()
	mustCall(t, importArgs(dir, loggerCSV(t))...)
	out, _ := mustCall(t, "record", "verify", "-record", dir, "-replay")
	require.Contains(t, out, "CHAIN WHOLE")
	require.Contains(t, out, "What it doesn't: whoever has the device")
	head := regexp.MustCompile(`head (\d+:[0-9a-f]{64})`).FindStringSubmatch(out)[1]
	out, _ = mustCall(t, "record", "verify", "-record", dir, "-match", head)
	require.Contains(t, out, "MATCH: the head is link")
	code, out, _ := call(t, "record", "verify", "-record", dir, "-match", head[:len(head)-1]+"x")
	require.Equal(t, exitError, code, out)
	code, out, _ = call(t, "record", "verify", "-record", dir, "-match", "1:"+strings.Repeat("0", 64))
	require.Equal(t, exitError, code)
	require.Contains(t, out, "NO MATCH")

	db, err := sql.Open("sqlite", filepath.Join(dir, "record.db"))
	require.NoError(t, err)
	_, err = db.Exec("UPDATE block_data SET data = zeroblob(50) WHERE block = 1; DELETE FROM event WHERE rowid = 1")
	require.NoError(t, err)
	require.NoError(t, db.Close())
	code, out, errs := call(t, "record", "verify", "-record", dir)
	require.Equal(t, exitError, code)
	require.Contains(t, errs, "not whole")
	require.Contains(t, out, "LOST: the frames of boot 1 from 0s to ")
	require.Contains(t, out, "CHAIN BROKEN, first at link")
	require.Contains(t, out, "it vouches for")
	require.Contains(t, out, "the frames are not what was sealed")
	_, errs = mustCall(t, "record", "export", "-record", dir, "-boot", "1", "-o", filepath.Join(t.TempDir(), "x.csv"))
	require.Contains(t, errs, "may give other verdicts")
}

// TestTheLifeGoesToANewRecord with the service book.
func TestTheLifeGoesToANewRecord(t *testing.T) {
	old, fresh := t.TempDir(), t.TempDir()
	mustCall(t, importArgs(old, loggerCSV(t))...) // a record with nothing of its own
	file := filepath.Join(t.TempDir(), "life.json")
	code, _, errs := call(t, "record", "life", "-record", old, "-export", file)
	require.Equal(t, exitError, code)
	require.Contains(t, errs, "nothing is counted")
	mustCall(t, "service", "-record", old, "-who", "P. Example", "done", serviceTask(t))
	_, errs = mustCall(t, "record", "life", "-record", old, "-export", file)
	require.Contains(t, errs, "the service book with 1 entry")
	for i, want := range []string{"service book, 1 entry: added", "service book: left as it is"} {
		out, _ := mustCall(t, "record", "life", "-record", fresh, "-import", file)
		require.Contains(t, out, want, i)
	}
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, []byte(strings.Replace(string(text), "Example", "Nobody", 1)), 0o644))
	code, _, errs = call(t, "record", "life", "-record", fresh, "-import", file)
	require.Equal(t, exitError, code)
	require.Contains(t, errs, "checksum is wrong")
	code, _, errs = call(t, "record", "life", "-record", fresh, "-import", file, "-export", file)
	require.Equal(t, exitError, code)
	require.Contains(t, errs, "leave one out")
}

// serviceTask is any task.
func serviceTask(*testing.T) string { return taskNames()[0] }

// TestNothingIsReplacedUnasked: what exists stays, and the message names the
// way to replace it.
func TestNothingIsReplacedUnasked(t *testing.T) {
	dir := t.TempDir()
	mustCall(t, importArgs(dir, loggerCSV(t))...)
	for _, words := range [][]string{
		{"report", "-record", dir, "-o", "FILE"}, {"record", "export", "-record", dir, "-format", "csv", "-o", "FILE"},
	} {
		file := write(t, "mine.html", "kept")
		words[len(words)-1] = file
		code, _, errs := call(t, words...)
		require.Equal(t, exitError, code, "%v", words)
		require.Contains(t, errs, "exists already: name another file, or replace it with -force")
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		require.Equal(t, "kept", string(text))
		forced := append(words[:len(words)-2:len(words)-2], "-force", "-o", file)
		mustCall(t, forced...)
		text, err = os.ReadFile(file)
		require.NoError(t, err)
		require.NotEqual(t, "kept", string(text))
	}
}

// TestAnExportIsWhatItsNameSays: no CSV under a spreadsheet's name.
func TestAnExportIsWhatItsNameSays(t *testing.T) {
	dir := t.TempDir()
	mustCall(t, importArgs(dir, loggerCSV(t))...)
	for _, name := range []string{"run.xlsx", "run.ods", "run.json", "run.txt"} {
		file := filepath.Join(t.TempDir(), name)
		code, _, errs := call(t, "record", "export", "-record", dir, "-o", file)
		require.Equal(t, exitError, code, name)
		require.Contains(t, errs, "-format csv", name)
		require.NoFileExists(t, file)
		mustCall(t, "record", "export", "-record", dir, "-format", "csv", "-o", file)
		require.FileExists(t, file)
	}
}

// TestADamagedRecordSaysWhatHelps, in every command that reads it.
func TestADamagedRecordSaysWhatHelps(t *testing.T) {
	dir := t.TempDir()
	mustCall(t, importArgs(dir, loggerCSV(t))...)
	path := filepath.Join(dir, "record.db")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	for at := 100; at < len(text); at++ { // all but the head, which says that it is a database
		text[at] = 0xa5
	}
	require.NoError(t, os.WriteFile(path, text, 0o600))
	for _, words := range [][]string{
		{"record", "list"}, {"record", "journal"}, {"record", "life"}, {"record", "verify"}, {"record", "export"}, {"review"}, {"report"}, {"whatif", "-set", "rules.inlet_low.act=15psi"},
	} {
		code, _, errs := call(t, append(words, "-record", dir)...)
		require.NotEqual(t, exitOK, code, "%v", words)
		require.Contains(t, errs, "takes all that is whole over", "%v", words)
	}
}

// TestServiceSaysWhatItDid, and makes no folder for a slip of the finger.
func TestServiceSaysWhatItDid(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "typo")
	code, _, errs := call(t, "service", "-record", dir, "done", serviceTask(t))
	require.Equal(t, exitError, code)
	require.Contains(t, errs, "there is no record in "+dir)
	require.NoDirExists(t, dir)
	require.NoError(t, os.Mkdir(dir, 0o755))
	out, _ := mustCall(t, "service", "-record", dir, "done", serviceTask(t))
	require.Contains(t, out, serviceTask(t)+": done")
	require.Contains(t, out, dir)
}

func TestRecordWithoutARecord(t *testing.T) {
	t.Setenv("STATE_DIRECTORY", filepath.Join(t.TempDir(), "none"))
	for _, word := range []string{"list", "journal", "export", "verify", "life"} {
		code, _, errs := call(t, "record", word)
		require.Equal(t, exitError, code, word)
		require.Contains(t, errs, "name its folder with -record", word)
	}
	code, _, errs := call(t, "record", "nonsense")
	require.Equal(t, exitUsage, code)
	require.Contains(t, errs, "list|journal|export|import|life|verify")
	old := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(old, "boot-000001"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(old, "boot-000001", "frames-1.csv"), nil, 0o644))
	_, _, errs = call(t, "record", "list", "-record", old)
	require.Contains(t, errs, "headroom replay "+old)
}

// TestASheetIsAFileForASpreadsheet: nothing before the header, a row a second,
// and no file is written over.
func TestASheetIsAFileForASpreadsheet(t *testing.T) {
	dir := t.TempDir()
	mustCall(t, importArgs(dir, loggerCSV(t))...)
	path := filepath.Join(dir, "run.csv")
	_, errs := mustCall(t, "record", "sheet", "-record", dir, "-o", path, "-from", "1m", "-to", "2m")
	require.Contains(t, errs, "60 rows")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(string(text), "\uFEFFTime,Seconds,Inlet pressure (psi),"), string(text[:80]))
	code, _, errs := call(t, "record", "sheet", "-record", dir, "-o", path)
	require.Equal(t, exitError, code)
	require.Contains(t, errs, "-force")
	mustCall(t, "record", "sheet", "-record", dir, "-o", path, "-force", "-units", "SI", "-decimal", ",")
}

// TestTheListSpeaksWords: what came first stands there as the screens say it.
func TestTheListSpeaksWords(t *testing.T) {
	dir := t.TempDir()
	mustCall(t, importArgs(dir, loggerCSV(t))...)
	out, _ := mustCall(t, "record", "list", "-record", dir)
	require.NotContains(t, out, "inlet_low")
	require.Contains(t, out, "Inlet pressure is getting low")
}

// TestANewMachineHasNothingDue: common practice, no source, looks after filter,
// oil, hoses and ground fault before each use, which is no reason to call a
// machine overdue that has been used once.
func TestANewMachineHasNothingDue(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "service.json"), []byte(`{"counters":{"RunS":600,"Starts":2,"Uses":1},"entries":[]}`), 0o600))
	out, _ := mustCall(t, "service", "-record", dir)
	require.Contains(t, out, "1 uses with 2 starts")
	require.NotContains(t, out, " due")
	require.Contains(t, out, "not noted yet")
	mustCall(t, "service", "-record", dir, "done", "hoses")
	out, _ = mustCall(t, "service", "-record", dir)
	require.Contains(t, out, "noted 0 uses ago")
}
