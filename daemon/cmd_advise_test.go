package main

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/advise"
)

func TestAdviseAnswers(t *testing.T) {
	code, out, errText := typed("advise", "supply", "-static", "62 psi", "-flowing", "4.1 gpm @ 48 psi")
	require.Equal(t, exitOK, code, errText)
	require.Contains(t, out, "enough for Demo jetter")
	require.Contains(t, out, "no certified safety device")

	code, out, errText = typed("advise", "cord", "-gauge", "12 AWG", "-length", "50 ft", "-current", "15 A", "-json")
	require.Equal(t, exitOK, code, errText)
	var a advise.Advice
	require.NoError(t, json.Unmarshal([]byte(out), &a))
	require.Equal(t, "good", a.Verdict)
}

func TestAdviseSaysWhatIsWrong(t *testing.T) {
	for _, c := range []struct {
		args []string
		code int
		part string
	}{
		{[]string{"advise"}, exitUsage, "usage: headroom advise TOPIC"},
		{[]string{"advise", "-h"}, exitOK, "unloader"},
		{[]string{"advise", "weather"}, exitUsage, `advise knows no "weather"`},
		{[]string{"advise", "supply", "-h"}, exitOK, "-flowing"},
		{[]string{"advise", "supply", "-nope"}, exitUsage, "-nope"},
		{[]string{"advise", "supply", "-static", "62"}, exitError, "cannot advise on supply: -static"},
	} {
		code, _, errText := typed(c.args...)
		require.Equal(t, c.code, code, c.args)
		require.Contains(t, errText, c.part)
	}
}
