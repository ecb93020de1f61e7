package store

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"telltale/alarms"
)

// A segment is a header of 16 bytes (magic, number, CRC-32C of both) and then
// frames. A frame is the length of its payload, a CRC-32C and the payload,
// integers little-endian. A frame that does not fit into the rest of a page
// begins on the next one, so that a flush of less than a page dirties a single
// page. The file is filled with zeros ahead of the frames, so that a flush
// changes no metadata; a length of zero says that the rest of the page is
// empty, and at the start of a page that the segment ends.
//
// The checksum covers the segment's number and the frame's place too: what an
// earlier user of the same disk blocks left behind is never taken for a frame.
const (
	pageSize     = 4096
	segmentHead  = 16
	frameHead    = 8
	maxFrame     = 16 << 20
	segmentMagic = "ttlejnl1"
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

func segmentName(n uint64) string { return fmt.Sprintf("journal-%06d.log", n) }

// segments lists the numbers of the segments in dir, in order.
func segments(dir string) ([]uint64, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var all []uint64
	for _, e := range entries {
		s, ok := strings.CutPrefix(e.Name(), "journal-")
		s, ok2 := strings.CutSuffix(s, ".log")
		if n, err := strconv.ParseUint(s, 10, 64); ok && ok2 && err == nil && segmentName(n) == e.Name() {
			all = append(all, n)
		}
	}
	slices.Sort(all)
	return all, nil
}

func appendSegmentHead(b []byte, segment uint64) []byte {
	b = append(b, segmentMagic...)
	b = binary.LittleEndian.AppendUint32(b, uint32(segment))
	return binary.LittleEndian.AppendUint32(b, crc32.Checksum(b[len(b)-12:], castagnoli))
}

func frameCRC(segment uint64, at int64, payload []byte) uint32 {
	var seed [20]byte
	binary.LittleEndian.PutUint64(seed[:], segment)
	binary.LittleEndian.PutUint64(seed[8:], uint64(at))
	binary.LittleEndian.PutUint32(seed[16:], uint32(len(payload)))
	return crc32.Update(crc32.Checksum(seed[:], castagnoli), castagnoli, payload)
}

// place says where a frame of n payload bytes begins when off is free.
func place(off int64, n int) int64 {
	if rest := pageSize - off%pageSize; rest < int64(frameHead+n) {
		return off + rest
	}
	return off
}

// noHead reports whether the rest of off's page is too short for a frame to begin
// there: what seems to be a length reaches into the next page.
func noHead(off int64) bool { return pageSize-off%pageSize < frameHead }

func nextPage(off int64) int64 { return (off/pageSize + 1) * pageSize }

// scan is what reading a segment found.
type scan struct {
	frames  int
	inputs  int
	end     int64 // after the last good frame
	torn    bool  // something other than zeros follows it: a flush cut short
	damaged int   // stretches that cannot be read, with good frames after them
	lost    int   // readings whose stream was defined in such a stretch
}

// readSegment gives yield every input of a segment. It reads past damage and
// says what it found. stopped is true when yield wanted no more.
func readSegment(b []byte, segment uint64, yield func(alarms.Input) bool) (found scan, stopped bool) {
	found.end = segmentHead
	bad := len(b) < segmentHead || string(b[:segmentHead]) != string(appendSegmentHead(nil, segment))
	var d decoder
	for off := int64(segmentHead); off+frameHead <= int64(len(b)); {
		if noHead(off) {
			off = nextPage(off)
			continue
		}
		payload, next := frameAt(b, segment, off)
		if payload == nil {
			bad = bad || next < 0 || off%pageSize == 0
			off = resume(b, segment, off)
			continue
		}
		lost, more, err := d.frame(payload, func(in alarms.Input) bool {
			found.inputs++
			return yield(in)
		})
		found.lost += lost
		if !more {
			return found, true
		}
		if bad || err != nil {
			found.damaged++
			bad = false
		}
		found.frames, found.end, off = found.frames+1, next, next
	}
	found.torn = slices.ContainsFunc(b[min(found.end, int64(len(b))):], func(c byte) bool { return c != 0 })
	return found, false
}

// resume finds the next frame in the page of off, where there is none that can
// be read, or else gives the next page.
func resume(b []byte, segment uint64, off int64) int64 {
	next := nextPage(off)
	for off++; off+frameHead < next && off+frameHead < int64(len(b)); off++ {
		n := int64(binary.LittleEndian.Uint32(b[off:]))
		if n == 0 || off+frameHead+n > next { // only at its start a frame may be longer than the page
			continue
		}
		if payload, _ := frameAt(b, segment, off); payload != nil {
			return off
		}
	}
	return next
}

// frameAt returns the payload at off and where it ends; nil and 0 where there
// is nothing, nil and -1 where there is something that is no frame.
func frameAt(b []byte, segment uint64, off int64) ([]byte, int64) {
	n := int64(binary.LittleEndian.Uint32(b[off:]))
	switch end := off + frameHead + n; {
	case n == 0:
		return nil, 0
	case n > maxFrame || end > int64(len(b)):
		return nil, -1
	case frameCRC(segment, off, b[off+frameHead:end]) != binary.LittleEndian.Uint32(b[off+4:]):
		return nil, -1
	default:
		return b[off+frameHead : end], end
	}
}

// wrecked reports whether what follows the good frames of a segment, whose end
// is given, is more than one write that was cut short.
func wrecked(b []byte, end int64) bool {
	last := int64(len(b)) - 1
	for last >= end && b[last] == 0 {
		last--
	}
	at := end
	if at+frameHead > int64(len(b)) || noHead(at) || binary.LittleEndian.Uint32(b[at:]) == 0 {
		at = nextPage(at)
	}
	if at+frameHead > int64(len(b)) {
		return last >= at+pageSize
	}
	n := int64(binary.LittleEndian.Uint32(b[at:]))
	if n > maxFrame {
		n = 0
	}
	return last >= max(at+frameHead+n, nextPage(at)+pageSize)
}

// cutTail shortens a segment to its good frames.
func cutTail(path string, end int64) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	err = f.Truncate(end)
	return errors.Join(err, f.Sync(), f.Close())
}

// readSegmentFile reads a segment that may be written meanwhile: from its end,
// page by page. A frame is written after all before it, so that whatever is found
// of a later page, all before it is there when the earlier pages are read.
func readSegmentFile(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	b := make([]byte, info.Size())
	for at := (len(b) - 1) / pageSize * pageSize; at >= 0; at -= pageSize {
		if _, err := f.ReadAt(b[at:min(at+pageSize, len(b))], int64(at)); err != nil && !errors.Is(err, io.EOF) {
			return nil, err
		}
	}
	return b, nil
}

// SyncDir makes new names in a directory last.
func SyncDir(dir string) error {
	d, err := os.Open(filepath.Clean(dir))
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
