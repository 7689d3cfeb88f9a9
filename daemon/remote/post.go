package remote

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"github.com/prometheus/client_golang/exp/api/remote"
)

// verdict is what became of a message.
type verdict uint8

const (
	// taken: the store has it.
	taken verdict = iota
	// refused: the store will never take it as it is.
	refused
	// known: the store had it already.
	known
	// held: it is not the data's fault; somebody must look at the settings.
	held
	// ended: the program ends.
	ended
)

// poster sends messages through the protocol's library, which compresses them
// and tries again after 5xx, 429 and a broken link.
type poster struct {
	wire  *wire
	api   *remote.API
	kind  string
	retry func(words string)
}

const (
	retryMin = 2 * time.Second
	retryMax = 5 * time.Minute
)

func newPoster(opt *Options, retry func(words string)) (*poster, error) {
	w, err := newWire(opt)
	if err != nil {
		return nil, err
	}
	base := *w.url
	base.Path = ""
	api, err := remote.NewAPI(base.String(), remote.WithAPIHTTPClient(w.client()), remote.WithAPIPath(w.url.Path),
		remote.WithAPIBackoff(remote.BackoffConfig{Min: retryMin, Max: retryMax}))
	if err != nil {
		return nil, errors.New("the url is none")
	}
	return &poster{wire: w, api: api, kind: opt.Protocol, retry: retry}, nil
}

// send sends one message until there is an answer or ctx ends. doubtful tells
// that the store may have it from an earlier attempt.
func (p *poster) send(ctx context.Context, all []series, doubtful bool) (verdict, error) {
	kind, msg := remote.WriteV1MessageType, any(encoded(encodeV1(all)))
	if p.kind == V2 {
		kind, msg = remote.WriteV2MessageType, requestV2(all)
	}
	got, err := p.api.Write(ctx, kind, msg, remote.WithWriteRetryCallback(func(err error) {
		doubtful = true
		p.retry(fmt.Sprintf("the store at %s: %s", p.wire.place(), p.wire.clean(err)))
	}))
	status := int(p.wire.status.Load())
	switch {
	case err == nil && (p.kind == V1 || got.Samples >= count(all)):
		return taken, nil
	case ctx.Err() != nil:
		return ended, context.Cause(ctx)
	case err == nil:
		return refused, fmt.Errorf("the store at %s took %d of %d samples", p.wire.place(), got.Samples, count(all))
	case status/100 == 2:
		return held, fmt.Errorf("the store at %s answers %d and stores nothing of version 2 of the protocol: set remote.protocol to \"v1\"", p.wire.place(), status)
	case status == http.StatusBadRequest && doubtful && stale(err):
		return known, nil
	case status == http.StatusBadRequest, status == http.StatusRequestEntityTooLarge, status == http.StatusUnprocessableEntity, status == http.StatusConflict:
		return refused, fmt.Errorf("the store at %s refuses samples: %s", p.wire.place(), p.wire.clean(err))
	}
	return held, fmt.Errorf("the store at %s: %s%s", p.wire.place(), p.wire.clean(err), mend(status, p.kind))
}

// stale reports whether the store says that it has newer samples, or these.
// The protocol has no code for it, so the words of the kept stores must do.
func stale(err error) bool {
	text := strings.ToLower(err.Error())
	return strings.Contains(text, "out of order") || strings.Contains(text, "out-of-order") || strings.Contains(text, "duplicate")
}

// mend says what to look at.
func mend(status int, kind string) string {
	switch {
	case status/100 == 3:
		return "; redirects are not followed: give the url it leads to"
	case status == http.StatusUnauthorized, status == http.StatusForbidden:
		return "; check remote.user, password_file or token_file"
	case status == http.StatusNotFound, status == http.StatusMethodNotAllowed:
		return "; check the path of remote.url"
	case status == http.StatusUnsupportedMediaType && kind == V2:
		return "; it doesn't take version 2 of the protocol: set remote.protocol to \"v1\""
	}
	return ""
}
