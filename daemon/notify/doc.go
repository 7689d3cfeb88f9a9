// Package notify tells people who are not at the screen: it sends the alarms'
// comings and goings to an Alertmanager, to a webhook and to an MQTT broker.
// It owns what a notification says, the queues, the retries and the three
// protocols. It refuses to judge anything, to take any command from outside,
// and to be waited for: it reads snapshot.Store like a page does, so neither a
// dead network nor a slow server can delay the tick.
//
// # What is promised
//
// Each target has its own goroutine and its own queue with one place for each
// alarm. A newer state of an alarm takes the place of the one that waits
// (counted as Coalesced), so a week without network costs no memory and ends
// with one message for each alarm that changed, the raised and severe ones
// first. A notification is sent until the target has taken it: it comes at
// least once, and may come twice. Only a target that refuses the content itself
// (HTTP 400, 413, 422) makes one be given up (counted as Refused). Notifications
// are an aid; a message that doesn't come means nothing.
//
// # The message
//
// Webhook and MQTT carry the same JSON object, encoded in UTF-8:
//
//	version         1; a reader must refuse another
//	id              "run-seq-alarm"; the same message sent again has the same
//	machine         the machine's name
//	boot, seq       number of the run and of the event in it; order by these
//	alarm           "inlet_low.act", "sensor.flow"
//	state           "raised", "returned", or "not_raised" (MQTT only: never
//	                raised since this run began)
//	level           "advice", "warning", "act"; "normal" with not_raised
//	title, cause, consequence, action
//	                what is wrong, what usually is behind it, what comes of it,
//	                what to do first
//	looks_like, do  the likeliest cause by the readings, where they can tell
//	value, limit    {"si", "si_unit", "text", "text_si"}: the number in SI and
//	                as text in the chosen units and in SI; null when unknown
//	sensor          status of the sensor, for a sensor's alarm
//	machine_state   "running", "bypassing", ...
//	first_out       true for the alarm that came first of its group
//	onset_mono_s    when the condition began and when the alarm changed, in
//	mono_s          seconds since the run's start: these never jump
//	onset_wall      the same by the machine's clock, RFC 3339 in UTC; null when
//	wall            unknown
//	clock           "unknown", "unset", "estimated" or "synced": how far to
//	                trust the two above
//	coalesced       earlier states of this alarm that were never sent
//	dashboard       address of the machine's own pages, when configured
//
// # The webhook
//
// One POST for each notification, Content-Type application/json. Any 2xx
// answer takes it; redirects are not followed. With a secret the header
//
//	X-Headroom-Signature: sha256=<hex>
//
// holds HMAC-SHA256 (RFC 2104, FIPS 180-4) with the secret as key over the
// exact bytes of the body. Check it over the raw body, before parsing, with a
// comparison in constant time, and drop an id that came before: the id is
// signed with the rest, so a replayed message is found by it.
//
// # MQTT
//
// Version 3.1.1, quality of service 1, everything retained, nothing subscribed:
//
//	<topic>/status        "online", or "offline" by the last will and at the end
//	<topic>/alarm/<name>  the message, one topic for each alarm
//
// Each new connection publishes all alarms again, so no state of an earlier
// run is left standing. While status is "offline" the alarms are history: they
// say what stood when the machine was last heard.
package notify
