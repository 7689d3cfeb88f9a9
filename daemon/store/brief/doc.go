// Package brief sums frames up in buckets of equal width: for each channel the
// least, the greatest and the mean value, how many frames could be used and
// which statuses were seen. Buckets of neighbouring frames add up to those of
// all of them, so a day is drawn from a few hundred numbers, and when the
// frames themselves must go the buckets can stay. The package reads no file
// and judges nothing; its figures are for drawing and reading, not for replay.
//
// Buckets lie at whole multiples of their width on the monotonic time of a
// boot. Packed, values are good for one part in 30,000, the least rounded down
// and the greatest up, so that no bucket hides an extreme.
package brief
