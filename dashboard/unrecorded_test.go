package dashboard

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
)

// What was done and could not be recorded is told to whoever did it, in every
// form of an answer, and never as if it hadn't been done.
func TestActsThatAreNotRecordedAreToldSo(t *testing.T) {
	m, _ := starved(t, false)
	opt := m.options()
	opt.Acts = func(ctx context.Context, a ActRequest) (engine.Did, error) {
		did, err := m.act(ctx, a)
		if err == nil {
			err = fmt.Errorf("%w: disk full", ErrNotRecorded)
		}
		return did, err
	}
	h := New(opt)
	said := func(resp *http.Response) (body map[string]any) {
		require.NoError(t, json.NewDecoder(resp.Body).Decode(&body))
		return body
	}
	const doubt = "It is done, but not recorded: disk full. After a power cut nobody would know of it."

	resp := post(h, "/api/v1/alarms/inlet_low.act/take_out", nil)
	require.Equal(t, 200, resp.StatusCode)
	body := said(resp)
	require.Equal(t, false, body["recorded"])
	require.Len(t, body["done"], 1)
	require.Contains(t, body["text"], doubt)

	resp = post(h, "/api/v1/alarms/inlet_low.act/take_out", nil)
	require.Equal(t, 409, resp.StatusCode, "it was done: it is out of service already")

	resp = post(h, "/alarms/inlet_low.act/put_back", nil)
	require.Equal(t, 200, resp.StatusCode, "a page and no way back as if all were well")
	page, err := io.ReadAll(resp.Body)
	require.NoError(t, err)
	require.Contains(t, string(page), "Done, but not recorded")
	require.Contains(t, string(page), "disk full")

	resp = post(h, "/alarms/all/acknowledge", nil, func(r *http.Request) { r.Header.Set("Accept", "application/json") })
	require.Equal(t, 200, resp.StatusCode)
	require.Contains(t, said(resp)["text"], doubt)

	_, h = starved(t, false)
	require.Equal(t, true, said(post(h, "/api/v1/alarms/inlet_low.act/acknowledge", nil))["recorded"])
}
