package cavitation

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The order in which the signs are taken in does not change the grade, and
// taking one in twice does not either.
func TestOrderDoesNotMatter(t *testing.T) {
	type sign struct {
		item  Item
		state State
		at    level
	}
	rapid.Check(t, func(t *rapid.T) {
		given := make([]sign, NumItems)
		for i := range given {
			given[i] = sign{Item(i), State(rapid.IntRange(0, int(Speaks)).Draw(t, "state")), level(rapid.IntRange(0, int(strong)).Draw(t, "level"))}
		}
		shuffled := rapid.Permutation(given).Draw(t, "order")
		shuffled = append(shuffled, shuffled[rapid.IntRange(0, NumItems-1).Draw(t, "twice")])
		var a, b levels
		for _, s := range given {
			a.add(s.item, s.state, s.at)
		}
		for _, s := range shuffled {
			b.add(s.item, s.state, s.at)
		}
		require.Equal(t, a, b)
		require.Equal(t, a.grade(), b.grade())
	})
}

func TestStrengthMeetsItsThresholds(t *testing.T) {
	for i, l := range DefaultConfig().Limits {
		require.Equal(t, 0.5, l.strength(l.Speaks), Item(i).String())
		require.Equal(t, 1.0, l.strength(l.Strong), Item(i).String())
		require.Equal(t, 1.0, l.strength(l.Strong+10*(l.Strong-l.Speaks)))
		require.Equal(t, 0.0, l.strength(l.Speaks-10*(l.Strong-l.Speaks)))
	}
}
