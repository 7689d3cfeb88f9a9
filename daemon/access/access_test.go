package access

import (
	"context"
	"fmt"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// bench is a gate with clocks of its own.
type bench struct {
	*Gate
	dir  string
	wall time.Time
	mono time.Duration
}

func newBench(t *testing.T) *bench {
	b := &bench{dir: t.TempDir(), wall: clockSince.Add(time.Hour)}
	b.open(t)
	return b
}

func (b *bench) open(t *testing.T) {
	g, err := Open(b.dir, Options{Now: func() time.Time { return b.wall }, Mono: func() time.Duration { return b.mono }})
	require.NoError(t, err)
	b.Gate = g
}

func (b *bench) draw(t *testing.T) string {
	p, err := NewPIN(b.dir)
	require.NoError(t, err)
	return p
}

// wrongPIN differs from p in its last digit.
func wrongPIN(p string) string {
	return p[:len(p)-1] + string('0'+(p[len(p)-1]-'0'+1)%10)
}

var (
	phone  = netip.MustParseAddr("192.168.4.20")
	laptop = netip.MustParseAddr("192.168.4.21")
)

func TestNothingOpensWithoutAPIN(t *testing.T) {
	b := newBench(t)
	require.False(t, b.HasPIN())
	_, err := b.Enter(t.Context(), phone, "00000000")
	require.ErrorIs(t, err, ErrNoPIN)
	require.False(t, b.Knows(""))
}

func TestPINOpensAsPeopleTypeIt(t *testing.T) {
	b := newBench(t)
	p := b.draw(t)
	require.Regexp(t, `^\d{4} \d{4}$`, p)
	for _, typed := range []string{p, strings.ReplaceAll(p, " ", ""), " " + strings.ReplaceAll(p, " ", "-") + "\n"} {
		token, err := b.Enter(t.Context(), phone, typed)
		require.NoError(t, err, "%q", typed)
		require.True(t, b.Knows(token))
		require.False(t, b.Knows(token+"x"))
	}
	for _, typed := range []string{wrongPIN(p), "", p + "0", "'; --"} {
		_, err := b.Enter(t.Context(), laptop, typed)
		require.ErrorIs(t, err, ErrWrong, "%q", typed)
	}
}

func TestNewPINEndsEverySession(t *testing.T) {
	b := newBench(t)
	token, err := b.Enter(t.Context(), phone, b.draw(t))
	require.NoError(t, err)
	b.draw(t) // by the command line, while the daemon runs
	require.False(t, b.Knows(token))
}

func TestSessionsOutliveARestartAndEnd(t *testing.T) {
	b := newBench(t)
	p := b.draw(t)
	token, err := b.Enter(t.Context(), phone, p)
	require.NoError(t, err)
	other, err := b.Enter(t.Context(), laptop, p)
	require.NoError(t, err)
	b.open(t)
	require.True(t, b.Knows(token))
	require.NoError(t, b.Leave(token))
	require.False(t, b.Knows(token))
	require.True(t, b.Knows(other))
	require.NoError(t, b.LeaveAll())
	b.open(t)
	require.False(t, b.Knows(other))
}

// Anybody on the net may ask to leave: that must not wear the card out.
func TestLeavingWithoutASessionWritesNothing(t *testing.T) {
	b := newBench(t)
	_, err := b.Enter(t.Context(), phone, b.draw(t))
	require.NoError(t, err)
	require.NoError(t, os.Remove(filepath.Join(b.dir, sessionFile)))
	for _, token := range []string{"", "x"} {
		require.NoError(t, b.Leave(token))
		require.NoFileExists(t, filepath.Join(b.dir, sessionFile))
	}
}

func TestUnusedSessionsAge(t *testing.T) {
	b := newBench(t)
	token, err := b.Enter(t.Context(), phone, b.draw(t))
	require.NoError(t, err)
	for range 3 { // use keeps it alive, also over restarts
		b.wall = b.wall.Add(SessionAge - time.Hour)
		b.open(t)
		require.True(t, b.Knows(token))
	}
	right := b.wall
	b.wall = time.Unix(100, 0) // a board without a battery clock starts so
	require.True(t, b.Knows(token), "a clock that was never set tells no age")
	b.wall = right.Add(time.Hour)
	require.True(t, b.Knows(token))
	b.wall = b.wall.Add(SessionAge + time.Hour)
	require.False(t, b.Knows(token))
}

func TestSessionsAreBounded(t *testing.T) {
	b := newBench(t)
	p := b.draw(t)
	first, err := b.Enter(t.Context(), phone, p)
	require.NoError(t, err)
	second, err := b.Enter(t.Context(), phone, p)
	require.NoError(t, err)
	for range maxSessions - 1 {
		b.mono += allEvery
		require.True(t, b.Knows(first))
		_, err := b.Enter(t.Context(), phone, p)
		require.NoError(t, err)
	}
	require.True(t, b.Knows(first), "it was in use")
	require.False(t, b.Knows(second), "it made room")
}

func TestGuessingWaits(t *testing.T) {
	b := newBench(t)
	p := b.draw(t)
	want := firstWait
	for i := range freeTries + 8 {
		_, err := b.Enter(t.Context(), phone, wrongPIN(p))
		require.ErrorIs(t, err, ErrWrong)
		if i < freeTries-1 {
			b.mono += allEvery
			continue
		}
		_, err = b.Enter(t.Context(), phone, p)
		var wait *WaitError
		require.ErrorAs(t, err, &wait, "even the right one must wait")
		require.Equal(t, min(want, longest), wait.For)
		b.mono += wait.For
		want *= 2
	}
	_, err := b.Enter(t.Context(), laptop, p)
	require.NoError(t, err, "another phone isn't held up")
	_, err = b.Enter(t.Context(), phone, p)
	require.NoError(t, err)
	_, err = b.Enter(t.Context(), phone, wrongPIN(p))
	require.ErrorIs(t, err, ErrWrong)
	_, err = b.Enter(t.Context(), phone, p)
	require.NoError(t, err, "the right PIN forgave the old tries")
}

// However the guesses are spread over addresses, no more count than the pace
// for all allows.
func TestPaceHoldsForAllAddresses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, now, counted := newLimiter(), time.Duration(0), 0
		for range rapid.IntRange(1, 600).Draw(t, "tries") {
			now += time.Duration(rapid.IntRange(0, 1500).Draw(t, "ms")) * time.Millisecond
			a := netip.AddrFrom4([4]byte{10, 0, byte(rapid.IntRange(0, 3).Draw(t, "net")), byte(rapid.IntRange(0, 255).Draw(t, "host"))})
			if l.wait(a, now) == 0 {
				counted++
				l.wrong(a, now)
			}
		}
		require.LessOrEqual(t, counted, allBurst+int(now/allEvery))
		require.LessOrEqual(t, len(l.sources), maxSources)
	})
}

func TestOneIPv6HostIsOneSource(t *testing.T) {
	l := newLimiter()
	for i := range freeTries {
		l.wrong(netip.MustParseAddr(fmt.Sprintf("fe80::%x%%wlan0", i+1)), 0)
	}
	require.Positive(t, l.wait(netip.MustParseAddr("fe80::abcd"), 0))
	require.Zero(t, l.wait(netip.MustParseAddr("fd00:1::1"), 0))
	require.Zero(t, l.wait(netip.Addr{}, 0))
}

func TestWhatIsKeptTellsNothing(t *testing.T) {
	b := newBench(t)
	p := b.draw(t)
	token, err := b.Enter(t.Context(), phone, p)
	require.NoError(t, err)
	files, err := os.ReadDir(b.dir)
	require.NoError(t, err)
	require.Len(t, files, 2)
	for _, f := range files {
		info, err := f.Info()
		require.NoError(t, err)
		require.Equal(t, os.FileMode(0o600), info.Mode().Perm(), f.Name())
		text, err := os.ReadFile(filepath.Join(b.dir, f.Name()))
		require.NoError(t, err)
		require.NotContains(t, string(text), token)
		require.NotContains(t, string(text), strings.ReplaceAll(p, " ", ""))
	}
}

func TestTwoDevicesDiffer(t *testing.T) {
	seen := map[string]bool{}
	for range 20 {
		p, err := NewPIN(t.TempDir())
		require.NoError(t, err)
		require.False(t, seen[p])
		seen[p] = true
	}
}

func TestDamagedFiles(t *testing.T) {
	b := newBench(t)
	p := b.draw(t)
	token, err := b.Enter(t.Context(), phone, p)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(b.dir, sessionFile), []byte("{"), 0o600))
	b.open(t)
	require.False(t, b.Knows(token))
	_, err = b.Enter(t.Context(), phone, p)
	require.NoError(t, err)

	good, err := os.ReadFile(filepath.Join(b.dir, pinFile))
	require.NoError(t, err)
	for _, bad := range []string{"", "12345678", string(good[:len(good)-4]), strings.Replace(string(good), "m=19456", "m=4194304", 1), strings.Replace(string(good), "argon2id", "argon2i", 1)} {
		require.NoError(t, os.WriteFile(filepath.Join(b.dir, pinFile), []byte(bad), 0o600))
		closed, err := Open(b.dir, Options{})
		require.ErrorContains(t, err, "headroom pin new", "%q", bad)
		require.NotNil(t, closed, "the watching needs no PIN")
		_, err = closed.Enter(t.Context(), laptop, p)
		require.ErrorContains(t, err, "headroom pin new", "%q", bad)
		require.False(t, b.HasPIN())
		_, err = b.Enter(t.Context(), laptop, p)
		require.Error(t, err)
	}
}

func TestManyAtOnceWaitForTheirTurn(t *testing.T) {
	b := newBench(t)
	p := b.draw(t)
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	wrong := make(chan error, 40)
	for range cap(wrong) {
		go func() {
			_, err := b.Enter(ctx, phone, wrongPIN(p))
			wrong <- err
		}()
	}
	tried := 0
	for range cap(wrong) {
		err := <-wrong
		var wait *WaitError
		if err == ErrWrong {
			tried++
		} else {
			require.ErrorAs(t, err, &wait)
		}
	}
	require.Equal(t, freeTries, tried)
}

func FuzzParsePIN(f *testing.F) {
	f.Add(pin{make([]byte, saltLen), make([]byte, keyLen)}.String())
	f.Add("$argon2id$v=19$m=19456,t=2,p=1$$")
	f.Fuzz(func(t *testing.T, text string) {
		p, err := parsePIN(text)
		if err == nil {
			again, err := parsePIN(p.String())
			require.NoError(t, err)
			require.Equal(t, p, again)
		}
	})
}

func BenchmarkEnter(b *testing.B) {
	p := pin{make([]byte, saltLen), make([]byte, keyLen)}
	for b.Loop() {
		p.is("12345678")
	}
}
