package remote

import (
	writev2 "github.com/prometheus/client_golang/exp/api/remote/genproto/v2"
)

// requestV2 is the message io.prometheus.write.v2.Request: each text stands in
// it once, so it is smaller than version 1 before it is compressed.
func requestV2(all []series) *writev2.Request {
	table := writev2.NewSymbolTable()
	req := &writev2.Request{}
	for i := range all {
		s := &all[i]
		ts := &writev2.TimeSeries{Metadata: &writev2.Metadata{Type: kindOf(s)}}
		for _, l := range s.labels {
			ts.LabelsRefs = append(ts.LabelsRefs, table.Symbolize(l.name), table.Symbolize(l.value))
		}
		for _, p := range s.samples {
			ts.Samples = append(ts.Samples, &writev2.Sample{Value: p.value, Timestamp: p.ms})
		}
		req.Timeseries = append(req.Timeseries, ts)
	}
	req.Symbols = table.Symbols()
	return req
}

// kindOf is what the name of a series says of its kind.
func kindOf(s *series) writev2.Metadata_MetricType {
	for _, l := range s.labels {
		if l.name == nameLabel && isCounter(l.value) {
			return writev2.Metadata_METRIC_TYPE_COUNTER
		}
	}
	return writev2.Metadata_METRIC_TYPE_GAUGE
}
