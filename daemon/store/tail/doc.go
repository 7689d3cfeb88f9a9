// Package tail keeps the last minutes of the record safe. It is one file of
// fixed size, made of zeros beforehand, into which records are written one
// after the other and round again, each synced before Append returns. As
// neither the size nor the extents of the file ever change, a sync writes the
// record's own sectors and nothing of the file system's books, which is what
// makes a sync each second bearable for a memory card.
//
// A record is never written over one that was not released. After a power cut
// Open finds every whole record by its checksum and gives them back in their
// order; a torn one is as if never written. The package knows nothing of what
// the records hold, starts no goroutine and deletes no file.
//
// # On disk
//
// A record begins at a multiple of 512 bytes; numbers are little endian:
//
//	0   4  magic "HRt1"
//	4   4  CRC-32C of all that follows, up to the end of the payload
//	8   8  sequence number, from 1
//	16  8  boot number
//	24  4  bytes of payload
//	28  4  place in the file, in sectors of 512 bytes
//	32     payload, and zeros up to the next sector
package tail
