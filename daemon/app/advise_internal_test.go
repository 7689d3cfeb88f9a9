package app

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/rules/units"
)

func TestAdviserAsksAndAnswersAsTheCommandDoes(t *testing.T) {
	a := adviser{config.Default()}
	names := map[string]bool{}
	for _, topic := range a.Topics() {
		names[topic.Name] = true
		require.NotEmpty(t, topic.Fields, topic.Name)
		for _, f := range topic.Fields {
			require.NotContains(t, notAsked, f.Name)
			require.NotEmpty(t, f.Label)
		}
	}
	require.True(t, names["supply"] && names["line"])

	test := map[string][]string{"static": {"62 psi"}, "flowing": {"4.1 gpm @ 48 psi", " "}}
	got, err := a.Advise("supply", test, units.US)
	require.NoError(t, err)
	require.NotEmpty(t, got.Headline)
	require.Contains(t, []string{"yes", "marginal", "no"}, got.Verdict)
	require.NotContains(t, got.Notes[0], "-config")
	for _, c := range []struct {
		values map[string][]string
		want   string
	}{
		{map[string][]string{}, "“Pressure without flow” is missing; write for example 60 psi"},
		{map[string][]string{"static": {"62"}, "flowing": test["flowing"]}, "“Pressure without flow”: "},
		{map[string][]string{"static": {"62 psi"}, "flowing": test["flowing"], "hose-bore": {"-1 in"}}, "“Inner diameter of the supply hose”: "},
		{map[string][]string{"nothing": {"1"}}, "nothing"},
	} {
		_, err := a.Advise("supply", c.values, units.US)
		require.ErrorContains(t, err, c.want)
		require.NotContains(t, err.Error(), "-static")
	}
	_, err = a.Advise("weather", nil, units.US)
	require.ErrorContains(t, err, "no question")
}
