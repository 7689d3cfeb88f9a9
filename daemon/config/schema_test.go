package config

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

func TestDefaultHasNoProblem(t *testing.T) {
	_, problems := Parse("default.toml", defaultTOML)
	require.Empty(t, render(problems))
	require.NoError(t, Default().Engine.Validate())
}

// TestDefaultsRoundTrip: nothing set, the written file, and the file written
// anew after reading are one and the same config.
func TestDefaultsRoundTrip(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteDefault(&b))
	written, problems := Parse("x", b.Bytes())
	require.Empty(t, problems)
	nothing, problems := Parse("x", nil)
	require.Empty(t, problems)
	written.Hash, nothing.Hash = [32]byte{}, [32]byte{}
	require.Equal(t, nothing, written)
}

// TestEveryKeyStandsInTheDefaultFile with its section, set or as an example.
func TestEveryKeyStandsInTheDefaultFile(t *testing.T) {
	for _, s := range Schema() {
		body := string(defaultTOML)
		if s.Name != "" {
			_, after, found := strings.Cut(body, "["+s.Name+"]")
			require.True(t, found, s.Name)
			body, _, _ = strings.Cut(after, "\n\n")
		}
		for _, k := range s.Keys {
			require.Regexp(t, regexp.MustCompile(`(?m)^(# )?`+k.Name+` = `), body, "%s.%s", s.Name, k.Name)
		}
	}
}

// TestEveryKeyIsComplete: whatever the schema shows a user must be accepted,
// stored and explained.
func TestEveryKeyIsComplete(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range Schema() {
		for _, k := range s.Keys {
			path := s.path(&k)
			require.False(t, seen[path], "%s stands twice", path)
			seen[path] = true
			require.NotEmpty(t, k.Doc, path)
			require.NotEqual(t, "unknown kind", k.Kind.String(), path)
			require.NotEmpty(t, k.sample(), "%s has neither default nor example", path)
			doc := read([]byte("x = " + k.sample()))
			require.Empty(t, doc.faults, path)
			r, trouble := convert(&k, doc.leaves[0].value)
			require.Nil(t, trouble, "%s = %s", path, k.sample())
			c := &Config{}
			if s.grow != nil {
				s.grow(c, 1)
			}
			require.NotPanics(t, func() { store(k.field(c, 0), r) }, path)
		}
	}
}

// TestEveryRuleAndChannelHasDefaults fails when the engine gains a rule or a
// channel that nobody has thought about here.
func TestEveryRuleAndChannelHasDefaults(t *testing.T) {
	for r := range engine.NumRules {
		d := ruleDefaults[r]
		require.NotEmpty(t, d.doc, "rule %s needs an entry in ruleDefaults", r)
		require.NotEmpty(t, d.source, "rule %s: no source", r)
		for _, x := range []delay{d.warnDelay, d.actDelay, d.offTime} {
			require.NotEmpty(t, x.why, "rule %s: a delay of %s without its reason", r, x.time)
		}
		require.True(t, len(d.needs)+len(d.either) > 0 || r == engine.Departure, "rule %s: no channel", r)
		if d.direct {
			require.Equal(t, r.Spec().Quantity, d.needs[0].Quantity(), "rule %s judges its channel directly", r)
		}
	}
	for c := range frame.NumChannels {
		require.NotEqual(t, channelDefault{}, channelDefaults[c], "channel %s needs an entry in channelDefaults", c)
	}
}

// TestMeasuresByProperty: any value inside a key's range is taken in any unit,
// any value outside is refused with the range in that unit.
func TestMeasuresByProperty(t *testing.T) {
	var keys []Key
	for _, s := range Schema() {
		for _, k := range s.Keys {
			if k.Kind == Measure && k.ranged() {
				keys = append(keys, k)
			}
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom(keys).Draw(t, "key")
		u, _ := units.Lookup(k.Quantity, rapid.SampledFrom(units.Symbols(k.Quantity)).Draw(t, "unit"))
		if k.ShareOf != "" && u.Symbol == "%" {
			t.Skip("a share")
		}
		part := rapid.Float64Range(0.001, 0.999).Draw(t, "part")
		inside := k.Min + part*(k.Max-k.Min)
		r, trouble := convert(&k, value{shape: aText, text: quantityText(u, inside)})
		require.Nil(t, trouble)
		require.InEpsilon(t, inside+1e4, r.number+1e4, 1e-9)

		outside := k.Max + (part+0.01)*(k.Max-k.Min)
		_, trouble = convert(&k, value{shape: aText, text: quantityText(u, outside)})
		require.NotNil(t, trouble)
		require.Contains(t, trouble.mend, u.Symbol)
	})
}

func quantityText(u units.Unit, si float64) string {
	return strings.TrimSpace(formatFloat(u.FromSI(si)) + " " + u.Symbol)
}
