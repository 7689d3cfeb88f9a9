package nbd

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A picture is a cut that the disk doesn't notice.
func TestPicturesLeaveTheDiskAsItWas(t *testing.T) {
	d := NewDisk(make([]byte, 4*SectorBytes), 1, Faults{})
	require.NoError(t, d.Write(filled(SectorBytes, 1), 0, false))
	require.NoError(t, d.Flush())
	require.NoError(t, d.Write(filled(2*SectorBytes, 2), SectorBytes, false))
	kept := 0
	for range 20 {
		o := d.Picture()
		require.Equal(t, filled(SectorBytes, 1), o.Image[:SectorBytes])
		require.Equal(t, 2, o.Kept+o.Lost)
		kept += o.Kept
	}
	require.Positive(t, kept)
	require.Less(t, kept, 40, "each picture draws anew")
	b := make([]byte, 2*SectorBytes)
	require.NoError(t, d.Read(b, SectorBytes))
	require.Equal(t, filled(2*SectorBytes, 2), b, "and what was written is there")
	require.NoError(t, d.Flush())
	require.Equal(t, b, d.Picture().Image[SectorBytes:3*SectorBytes])
	require.Equal(t, b, d.Cut().Image[SectorBytes:3*SectorBytes])
	require.Equal(t, b, d.Picture().Image[SectorBytes:3*SectorBytes], "after the cut it is what that left")
}

func TestPicturesAreTakenInTheMiddleOfWork(t *testing.T) {
	d := NewDisk(make([]byte, 4*SectorBytes), 1, Faults{})
	require.NoError(t, d.Write(filled(SectorBytes, 1), 0, false))
	require.Equal(t, 1, d.Work())
	var seen []Outcome
	d.PictureAt([]int{2, 4, 5}, func(o Outcome) { seen = append(seen, o) })
	require.NoError(t, d.Flush())
	require.Len(t, seen, 1)
	require.Equal(t, 1, seen[0].Kept+seen[0].Lost, "the flush it met has done nothing")
	require.NoError(t, d.Write(filled(3*SectorBytes, 2), SectorBytes, false))
	require.Len(t, seen, 3, "a large write is met more often")
	require.Equal(t, 3, seen[1].Kept+seen[1].Lost, "the write it met may be lost")
	require.NoError(t, d.Flush())
	require.Len(t, seen, 3)
}

func TestAnotherCardHasAnotherContent(t *testing.T) {
	d := NewDisk(make([]byte, SectorBytes), 1, Faults{})
	require.NoError(t, d.Write(filled(SectorBytes, 1), 0, false))
	d.Insert(filled(SectorBytes, 2))
	b := make([]byte, SectorBytes)
	require.NoError(t, d.Read(b, 0))
	require.Equal(t, filled(SectorBytes, 2), b)
	require.Zero(t, d.Picture().Lost, "and nothing of the old one's cache")
}

// Over some cuts a lost sector is torn: its front new, its end old.
func TestSomeLostSectorsAreTorn(t *testing.T) {
	torn, counted := 0, 0
	for seed := range uint64(100) {
		d := NewDisk(make([]byte, 8*SectorBytes), seed, Faults{})
		require.NoError(t, d.Write(filled(8*SectorBytes, 1), 0, false))
		o := d.Cut()
		counted += o.Torn
		for at := 0; at < len(o.Image); at += SectorBytes {
			if s := o.Image[at : at+SectorBytes]; s[0] == 1 && s[SectorBytes-1] == 0 {
				torn++
			}
		}
	}
	require.Positive(t, torn)
	require.InDelta(t, counted, torn, 3, "one that is torn at its first byte looks lost")
}
