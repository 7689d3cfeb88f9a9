package parts

// CRC8 is the 1-wire check byte: polynomial x8+x5+x4+1, bit-reversed, start 0
// (Maxim application note 27). Over data with its check byte it is 0.
func CRC8(data []byte) byte {
	var c byte
	for _, b := range data {
		for range 8 {
			mixed := (c ^ b) & 1
			c >>= 1
			if mixed != 0 {
				c ^= 0x8c
			}
			b >>= 1
		}
	}
	return c
}
