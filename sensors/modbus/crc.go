package modbus

// crc16 is the checksum of Modbus over serial line: polynomial A001 reflected,
// start FFFF. On the wire its low byte comes first.
func crc16(data []byte) uint16 {
	crc := uint16(0xffff)
	for _, b := range data {
		crc ^= uint16(b)
		for range 8 {
			odd := crc & 1
			crc >>= 1
			if odd == 1 {
				crc ^= 0xa001
			}
		}
	}
	return crc
}

func withCRC(frame []byte) []byte {
	c := crc16(frame)
	return append(frame, byte(c), byte(c>>8))
}

func goodCRC(frame []byte) bool {
	n := len(frame) - 2
	return n > 0 && crc16(frame[:n]) == uint16(frame[n])|uint16(frame[n+1])<<8
}
