// Package seriestest makes series of frames for the tests and benchmarks of
// the record: from the public recordings of a pump loop, and from the
// simulator's demo. It is for tests only; nothing in it is a measurement of a
// jetter, and it judges nothing.
package seriestest

import (
	"bufio"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/scenario"
	"headroom/sensors/sim"
)

// Tick is the distance of frames.
const Tick = 100 * time.Millisecond

// column is one column of the recordings and the converter it is seen through.
type column struct {
	channel    frame.Channel
	lo, hi     float64 // of the converter, in the recording's unit
	scale, add float64 // to SI
	noise      float64 // standard deviation, in codes
}

// columns stand as in the files: two accelerations in g, current in A, pressure
// in bar, two temperatures in °C, voltage in V, flow in l/min. The noise is
// chosen so that plain deltas cost what they cost in the project's reference
// measurement, 1.4 bytes; it is invented.
var columns = [8]column{
	{frame.Vibration, 0, 4, 9.80665, 0, 50},
	{frame.Vibration2, 0, 4, 9.80665, 0, 50},
	{frame.MotorCurrent, 0, 20, 1, 0, 75},
	{frame.OutletPressure, -1, 9, 1e5, 0, 75},
	{frame.MotorTemp, -20, 180, 1, 273.15, 25},
	{frame.WaterTemp, -20, 180, 1, 273.15, 25},
	{frame.SupplyVoltage, 0, 500, 1, 0, 75},
	{frame.Flow, 0, 250, 1e-3 / 60, 0, 50},
}

const codes = 1 << 16

// Pump makes n frames out of the public recordings: ten a second between rows
// that are a second apart, noise, and the steps of a 16 bit converter.
func Pump(t testing.TB, n int) []frame.Frame {
	rows := pumpRows(t)
	rnd := rand.New(rand.NewPCG(11, 12))
	out := make([]frame.Frame, n)
	for i := range out {
		row := i / 10 % (len(rows) - 1)
		part := float64(i%10) / 10
		for j := range columns {
			c := &columns[j]
			v := rows[row][j] + float64(part*(rows[row+1][j]-rows[row][j]))
			code := math.Round((v-c.lo)/(c.hi-c.lo)*codes + float64(c.noise*rnd.NormFloat64()))
			code = min(max(code, 0), codes-1)
			si := c.lo*c.scale + c.add
			out[i].Set(c.channel, float64(code*((c.hi-c.lo)*c.scale/codes))+si)
		}
	}
	return out
}

// pumpRows reads all rows of all files, in a fixed order.
func pumpRows(t testing.TB) (rows [][8]float64) {
	folder := testneed.Shared(t, "pump-data")
	files, err := filepath.Glob(filepath.Join(folder, "*", "*.csv"))
	require.NoError(t, err)
	slices.Sort(files)
	for _, name := range files {
		f, err := os.Open(name)
		require.NoError(t, err)
		in := bufio.NewScanner(f)
		in.Scan() // the header
		for in.Scan() {
			var row [8]float64
			for j, cell := range strings.Split(in.Text(), ";")[1:9] {
				row[j], err = strconv.ParseFloat(cell, 64)
				require.NoError(t, err, name)
			}
			rows = append(rows, row)
		}
		require.NoError(t, f.Close())
	}
	require.NotEmpty(t, rows)
	return rows
}

// Demo plays the simulator's demo, again and again, through n frames as the
// daemon's board would give them.
func Demo(t testing.TB, n int) []frame.Frame {
	sc, err := scenario.Demo()
	require.NoError(t, err)
	s, err := sim.New(sim.Options{Scenario: sc, Loop: true})
	require.NoError(t, err)
	var f frame.Frame
	for _, c := range s.Channels() {
		f.Samples[c].Status = frame.Missing
	}
	out := make([]frame.Frame, n)
	for i := range out {
		s.Advance(time.Duration(i+1)*Tick, func(r sensors.Reading) { f.Samples[r.Channel] = r.Sample })
		out[i] = f
	}
	return out
}
