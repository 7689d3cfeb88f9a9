package notify

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
)

// WebhookOptions of a webhook. URL is required.
type WebhookOptions struct {
	HTTP
	// Secret signs the body; empty leaves the signature out. Without it anyone
	// who knows the receiver's address can send it false alarms.
	Secret Secret
}

// SignatureHeader holds "sha256=" and the HMAC-SHA256 of the body in hex.
const SignatureHeader = "X-Headroom-Signature"

// Webhook posts each notification as JSON; the package comment describes it.
type Webhook struct {
	post   *poster
	secret Secret
}

var _ Sink = (*Webhook)(nil)

// NewWebhook checks the options. Nothing is sent yet.
func NewWebhook(opt WebhookOptions) (*Webhook, error) {
	p, err := newPoster("webhook", opt.HTTP)
	if err != nil {
		return nil, err
	}
	p.secrets = append(p.secrets, string(opt.Secret))
	return &Webhook{post: p, secret: opt.Secret}, nil
}

// Kind returns "webhook".
func (w *Webhook) Kind() string { return "webhook" }

// Traits: one notification at a time, and no reminders.
func (w *Webhook) Traits() Traits { return Traits{Batch: 1} }

// Send posts each notification and stops at the first that isn't taken.
func (w *Webhook) Send(ctx context.Context, batch []Notification) error {
	for i := range batch {
		body, err := batch[i].JSON()
		if err != nil {
			return &Failure{Err: err, Refused: true}
		}
		header := http.Header{"Content-Type": {"application/json"}}
		if w.secret != "" {
			header.Set(SignatureHeader, Sign(w.secret, body))
		}
		if _, err := w.post.do(ctx, http.MethodPost, w.post.url, body, header); err != nil {
			return err
		}
	}
	return nil
}

// Close drops the idle connection.
func (w *Webhook) Close(context.Context) error {
	w.post.close()
	return nil
}

// Sign returns the value of SignatureHeader for a body (HMAC: RFC 2104;
// SHA-256: FIPS 180-4). Receivers compare with hmac.Equal, never with ==.
func Sign(secret Secret, body []byte) string {
	h := hmac.New(sha256.New, []byte(secret))
	h.Write(body)
	return "sha256=" + hex.EncodeToString(h.Sum(nil))
}
