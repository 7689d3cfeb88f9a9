package nbd

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func filled(n int, b byte) []byte { return bytes.Repeat([]byte{b}, n) }

func TestFlushedWritesSurviveEveryCut(t *testing.T) {
	for seed := range uint64(50) {
		d := NewDisk(make([]byte, 8*SectorBytes), seed, Faults{})
		require.NoError(t, d.Write(filled(2*SectorBytes, 1), SectorBytes, false))
		require.NoError(t, d.Flush())
		require.NoError(t, d.Write(filled(4*SectorBytes, 2), 4*SectorBytes, false))
		o := d.Cut()
		require.Equal(t, filled(2*SectorBytes, 1), o.Image[SectorBytes:3*SectorBytes])
		require.Equal(t, 4, o.Kept+o.Lost)
	}
}

// The control: over some cuts, unflushed sectors are lost, kept, and both at
// once. A disk that always did the same would test little.
func TestUnflushedSectorsAreLostInPart(t *testing.T) {
	whole, none, torn := 0, 0, 0
	for seed := range uint64(200) {
		d := NewDisk(make([]byte, 8*SectorBytes), seed, Faults{})
		require.NoError(t, d.Write(filled(4*SectorBytes, 1), 0, false))
		switch o := d.Cut(); {
		case o.Lost == 0:
			whole++
		case o.Kept == 0:
			none++
		default:
			torn++
		}
	}
	require.Positive(t, whole)
	require.Positive(t, none)
	require.Greater(t, torn, 50)
}

func TestADiskThatLiesLosesFlushedWrites(t *testing.T) {
	lost := 0
	for seed := range uint64(20) {
		d := NewDisk(make([]byte, 4*SectorBytes), seed, Faults{IgnoreFlush: true})
		require.NoError(t, d.Write(filled(SectorBytes, 1), 0, true))
		require.NoError(t, d.Flush())
		lost += d.Cut().Lost
	}
	require.Positive(t, lost)
}

func TestForcedWriteIsDurableAloneAndStaysOnTop(t *testing.T) {
	for seed := range uint64(50) {
		d := NewDisk(make([]byte, 4*SectorBytes), seed, Faults{})
		require.NoError(t, d.Write(filled(3*SectorBytes, 1), 0, false))
		require.NoError(t, d.Write(filled(SectorBytes, 2), SectorBytes, true))
		o := d.Cut()
		require.Equal(t, filled(SectorBytes, 2), o.Image[SectorBytes:2*SectorBytes], "an older write may not come back over a forced one")
		require.Equal(t, 2, o.Kept+o.Lost, "only the older write's other sectors were at stake")
	}
}

func TestCutAtTheNthRequest(t *testing.T) {
	d := NewDisk(make([]byte, 4*SectorBytes), 1, Faults{CutAtWrite: 2})
	require.NoError(t, d.Write(filled(SectorBytes, 1), 0, false))
	require.ErrorIs(t, d.Write(filled(SectorBytes, 2), 0, false), ErrOff)
	<-d.Off()
	require.ErrorIs(t, d.Flush(), ErrOff)
	require.ErrorIs(t, d.Read(make([]byte, 1), 0), ErrOff)
	require.Equal(t, 2, d.Cut().Writes)

	d = NewDisk(make([]byte, 4*SectorBytes), 1, Faults{CutAtFlush: 1})
	require.NoError(t, d.Write(filled(SectorBytes, 1), 0, false))
	require.ErrorIs(t, d.Flush(), ErrOff)
	o := d.Cut()
	require.Equal(t, 1, o.Kept+o.Lost, "the flush that the cut met has done nothing")
}

func TestInjectedErrors(t *testing.T) {
	one := filled(SectorBytes, 1)
	d := NewDisk(make([]byte, 4*SectorBytes), 1, Faults{FailWrite: 2, FailFor: 1, FailFlush: 1})
	require.NoError(t, d.Write(one, 0, false))
	require.ErrorIs(t, d.Write(one, 0, false), ErrIO)
	require.NoError(t, d.Write(one, 0, false))
	require.ErrorIs(t, d.Flush(), ErrIO)
	require.NoError(t, d.Flush())

	d = NewDisk(make([]byte, 4*SectorBytes), 1, Faults{FullAtWrite: 1})
	require.ErrorIs(t, d.Write(one, 0, false), ErrNoSpace)
	b := make([]byte, 1)
	require.NoError(t, d.Read(b, 0), "a full disk still reads")
	require.Zero(t, b[0])
	d.SetFaults(Faults{})
	require.NoError(t, d.Write(one, 0, false))
	require.ErrorIs(t, d.Write(one, 4*SectorBytes, false), ErrRange)
	require.ErrorIs(t, d.Write(one, -1, false), ErrRange)
}

// The oracle keeps, for each sector, every value that may be there after a
// cut: the last durable one and each written since.
func TestNothingButWrittenSectorsAppears(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const sectors = 6
		d := NewDisk(make([]byte, sectors*SectorBytes), rapid.Uint64().Draw(t, "seed"), Faults{})
		var allowed [sectors][]byte
		for i := range allowed {
			allowed[i] = []byte{0}
		}
		for n := range rapid.IntRange(1, 30).Draw(t, "steps") {
			if rapid.IntRange(0, 4).Draw(t, "flush") == 0 {
				require.NoError(t, d.Flush())
				for i, a := range allowed {
					allowed[i] = a[len(a)-1:]
				}
				continue
			}
			from := rapid.IntRange(0, sectors-1).Draw(t, "from")
			count := rapid.IntRange(1, sectors-from).Draw(t, "count")
			forced := rapid.Bool().Draw(t, "forced")
			require.NoError(t, d.Write(filled(count*SectorBytes, byte(n+1)), int64(from*SectorBytes), forced))
			for i := from; i < from+count; i++ {
				if allowed[i] = append(allowed[i], byte(n+1)); forced {
					allowed[i] = []byte{byte(n + 1)}
				}
			}
		}
		o := d.Cut()
		for i, a := range allowed {
			s := o.Image[i*SectorBytes : (i+1)*SectorBytes]
			for j, b := range s {
				require.Contains(t, a, b, "sector %d, byte %d", i, j)
				require.LessOrEqual(t, b, s[max(j-1, 0)], "sector %d is torn only so that its front is newer", i)
			}
		}
	})
}
