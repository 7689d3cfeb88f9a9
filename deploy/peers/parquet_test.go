package peers

import (
	"bytes"
	"context"
	"testing"
	"time"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"
	"github.com/stretchr/testify/require"

	"headroom/daemon/parquetfile"
	"headroom/rules/frame"
)

// TestAnotherImplementationReadsOurParquet opens an export with Apache Arrow's
// own reader, which shares no code with the writer's library.
func TestAnotherImplementationReadsOurParquet(t *testing.T) {
	const rows = 1000
	var out bytes.Buffer
	w, err := parquetfile.NewWriter(&out, []frame.Channel{frame.InletPressure, frame.WaterTemp}, "0.0.0-test",
		[]parquetfile.Word{{Key: "headroom.machine", Value: "trailer 2, invented"}})
	require.NoError(t, err)
	for i := range rows {
		var f frame.Frame
		f.Set(frame.InletPressure, 300e3+float64(i)/3)
		f.Samples[frame.WaterTemp] = frame.Sample{Status: frame.Missing}
		wall := begin.Add(time.Duration(i) * 100 * time.Millisecond)
		if i%10 == 3 {
			wall = time.Time{}
		}
		require.NoError(t, w.Write(time.Duration(i+1)*100*time.Millisecond, wall, &f))
	}
	require.NoError(t, w.Close())

	r, err := file.NewParquetReader(bytes.NewReader(out.Bytes()))
	require.NoError(t, err)
	defer r.Close()
	machine := r.MetaData().KeyValueMetadata().FindValue("headroom.machine")
	require.NotNil(t, machine)
	require.Equal(t, "trailer 2, invented", *machine)
	fr, err := pqarrow.NewFileReader(r, pqarrow.ArrowReadProperties{}, memory.DefaultAllocator)
	require.NoError(t, err)
	table, err := fr.ReadTable(context.Background())
	require.NoError(t, err)
	defer table.Release()
	require.EqualValues(t, rows, table.NumRows())
	var names []string
	for _, f := range table.Schema().Fields() {
		names = append(names, f.Name)
	}
	require.Equal(t, []string{"t_ns", "time_s", "wall", "inlet_pressure_pa", "inlet_pressure_status", "water_temp_k", "water_temp_status"}, names)

	column := func(i int) arrow.Array { return table.Column(i).Data().Chunk(0) }
	times, seconds := column(0).(*array.Int64), column(1).(*array.Float64)
	walls, pressures := column(2).(*array.Timestamp), column(3).(*array.Float64)
	good, temps, missing := column(4).(*array.String), column(5).(*array.Float64), column(6).(*array.String)
	require.Equal(t, &arrow.TimestampType{Unit: arrow.Nanosecond, TimeZone: "UTC"}, walls.DataType())
	for i := range rows {
		require.EqualValues(t, (i+1)*100_000_000, times.Value(i))
		require.InDelta(t, float64(i+1)/10, seconds.Value(i), 1e-9)
		require.Equal(t, i%10 == 3, walls.IsNull(i))
		if !walls.IsNull(i) {
			require.EqualValues(t, begin.Add(time.Duration(i)*100*time.Millisecond).UnixNano(), walls.Value(i))
		}
		require.Equal(t, 300e3+float64(i)/3, pressures.Value(i), "bit for bit")
		require.Equal(t, "good", good.Value(i))
		require.True(t, temps.IsNull(i))
		require.Equal(t, "missing", missing.Value(i))
	}
}
