package export

import (
	"encoding/binary"
	"hash/crc32"
)

// makeFrame puts length, lines and sum before the text of b.
func makeFrame(b batch) []byte {
	frame := make([]byte, frameHeader, frameHeader+len(b.text))
	binary.LittleEndian.PutUint32(frame, uint32(len(b.text)))
	binary.LittleEndian.PutUint32(frame[4:], uint32(b.lines))
	frame = append(frame, b.text...)
	binary.LittleEndian.PutUint32(frame[8:], frameSum(frame))
	return frame
}

// readFrame takes the frame at the start of data; ok is false if none is
// whole. n is its length with the header.
func readFrame(data []byte) (b batch, n int64, ok bool) {
	if len(data) < frameHeader {
		return b, 0, false
	}
	length := int64(binary.LittleEndian.Uint32(data))
	n = frameHeader + length
	if length == 0 || int64(len(data)) < n || frameSum(data[:n]) != binary.LittleEndian.Uint32(data[8:]) {
		return b, 0, false
	}
	return batch{text: data[frameHeader:n:n], lines: int(binary.LittleEndian.Uint32(data[4:]))}, n, true
}

func frameSum(frame []byte) uint32 {
	table := crc32.MakeTable(crc32.Castagnoli)
	return crc32.Update(crc32.Checksum(frame[:8], table), table, frame[frameHeader:])
}
