package config

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/units"
)

func TestForm(t *testing.T) {
	for _, c := range []struct {
		key  Key
		want string
	}{
		{Key{Kind: Text}, ""},
		{Key{Kind: Flag}, "true or false"},
		{Key{Kind: Choice, Choices: []string{"a", "b"}}, `one of "a", "b"`},
		{Key{Kind: Names, Choices: []string{"a"}}, `a list of "a"`},
		{Key{Kind: Number}, "a number"},
		{Key{Kind: Number, Min: 0.1, Max: 1000}, "a number: 0.1 to 1000"},
		{Key{Kind: Count, Allowed: []int64{5, 10}}, "a whole number: 5, 10"},
		{Key{Kind: Measure, Quantity: units.Fraction, Max: 1, Above: true}, "a share in %; above 0 %, up to 100 %"},
	} {
		require.Equal(t, c.want, c.key.Form())
	}
	share := Key{Kind: Measure, Quantity: units.Current, ShareOf: "circuit.rating"}
	require.Contains(t, share.Form(), "or in % of circuit.rating")
}
