package advise_test

import (
	"flag"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/advise"
	"headroom/rules/units"
)

// A form asks for what the command has flags for, and says what it stands in
// for them.
func TestFieldsAreTheFlags(t *testing.T) {
	for _, topic := range advise.Topics() {
		fs := flag.NewFlagSet(topic.Name, flag.ContinueOnError)
		topic.Bind(fs)
		names, needed := []string{"config", "json", "units"}, 0
		for i, f := range topic.Fields() {
			names = append(names, f.Name)
			fl := fs.Lookup(f.Name)
			require.NotNil(t, fl, "%s -%s", topic.Name, f.Name)
			require.NotEmpty(t, f.Label)
			require.NotContains(t, f.Help+f.Label, "`")
			require.Equal(t, f.Kind == advise.Choice, len(f.Choices) > 0, f.Name)
			if f.Needed {
				require.Equal(t, needed, i, "%s: what is needed comes first", f.Name)
				needed++
			} else {
				require.True(t, f.Without != "" || f.Fallback > 0, "%s -%s: what stands in?", topic.Name, f.Name)
			}
			if f.Kind == advise.Measure && fl.DefValue != "" {
				v, err := units.Parse(f.Quantity, fl.DefValue)
				require.NoError(t, err)
				require.InDelta(t, v, f.Fallback, 1e-9*v, "%s -%s", topic.Name, f.Name)
			}
		}
		require.Positive(t, needed, topic.Name)
		fs.VisitAll(func(f *flag.Flag) { require.Contains(t, names, f.Name, topic.Name) })
	}
}
