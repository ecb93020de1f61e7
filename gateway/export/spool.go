package export

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
)

// spool is the buffer on disk: segment files of frames, read from the oldest
// end. A frame is one batch: its length, its number of lines and a CRC-32C
// over these and the text. What a crash has left half written at the end of a
// segment is cut off when the spool is opened. It is not safe for concurrent
// use.
type spool struct {
	dir      string
	max      int64 // bytes of all segments
	perFile  int64 // bytes after which a new segment is begun
	segments []segment
	at       position // of the next frame to be read
	writer   *os.File // of the last segment; nil: begin a new one
}

// segment is one file.
type segment struct {
	seq   uint64
	size  int64
	lines int // not yet read
}

const (
	frameHeader  = 12
	positionFile = "position"
	segmentName  = "%016x.lines"
)

// openSpool opens or makes the buffer in dir, which is used for nothing else.
// torn is how many bytes were cut off because they were no whole frames.
func openSpool(dir string, max int64) (s *spool, torn int64, err error) {
	s = &spool{dir: dir, max: max, perFile: min(1<<20, max/4)}
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return nil, 0, err
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, 0, err
	}
	s.at = s.readPosition()
	for _, e := range entries {
		var seq uint64
		if n, err := fmt.Sscanf(e.Name(), segmentName, &seq); n != 1 || err != nil || e.Name() != fmt.Sprintf(segmentName, seq) {
			continue
		}
		seg, cut, err := s.recover(seq)
		if err != nil {
			return nil, torn, err
		}
		torn += cut
		s.segments = append(s.segments, seg)
	}
	slices.SortFunc(s.segments, func(a, b segment) int { return position{a.seq, 0}.compare(position{b.seq, 0}) })
	return s, torn, s.tidy()
}

// recover checks one segment and cuts it after its last whole frame.
func (s *spool) recover(seq uint64) (seg segment, cut int64, err error) {
	data, err := os.ReadFile(s.path(seq))
	if err != nil {
		return seg, 0, err
	}
	seg.seq = seq
	for {
		b, n, ok := readFrame(data[seg.size:])
		if !ok {
			break
		}
		if s.at.before(position{seq, seg.size + n}) {
			seg.lines += b.lines
		}
		seg.size += n
	}
	cut = int64(len(data)) - seg.size
	if cut > 0 {
		err = os.Truncate(s.path(seq), seg.size)
	}
	return seg, cut, err
}

// append writes one batch at the end and waits for the disk. It returns the
// position behind it, and how many lines were given up to make room.
func (s *spool) append(b batch) (end position, dropped int, err error) {
	frame := makeFrame(b)
	if int64(len(frame)) > s.max {
		return s.at, b.lines, nil // can never fit
	}
	for s.fullFor(b) && len(s.segments) > 0 {
		n, err := s.dropOldest()
		dropped += n
		if err != nil {
			return s.at, dropped, err
		}
	}
	end, err = s.write(frame, b.lines)
	return end, dropped, err
}

// fullFor reports whether older segments must go before b can be appended.
func (s *spool) fullFor(b batch) bool { return s.size()+frameHeader+int64(len(b.text)) > s.max }

func (s *spool) write(frame []byte, lines int) (position, error) {
	if s.writer == nil || s.segments[len(s.segments)-1].size >= s.perFile {
		if err := s.begin(); err != nil {
			return s.at, err
		}
	}
	last := &s.segments[len(s.segments)-1]
	_, err := s.writer.Write(frame)
	if err == nil {
		err = s.writer.Sync()
	}
	if err != nil {
		// Whatever part of it was written must not stand before a later frame.
		return s.at, errors.Join(err, s.writer.Truncate(last.size), s.close())
	}
	last.size += int64(len(frame))
	last.lines += lines
	return position{last.seq, last.size}, nil
}

// begin starts a new segment.
func (s *spool) begin() error {
	if err := s.close(); err != nil {
		return err
	}
	seq := s.at.seq + 1
	if n := len(s.segments); n > 0 {
		seq = s.segments[n-1].seq + 1
	}
	f, err := os.OpenFile(s.path(seq), os.O_CREATE|os.O_EXCL|os.O_WRONLY|os.O_APPEND, 0o640)
	if err != nil {
		return err
	}
	s.writer = f
	s.segments = append(s.segments, segment{seq: seq})
	return syncDir(s.dir)
}

// next returns the oldest frames, joined up to about most bytes, and the
// position behind them. An empty spool gives an empty batch.
func (s *spool) next(most int) (b batch, end position, err error) {
	end = s.at
	for _, seg := range s.segments {
		if end.seq < seg.seq {
			end = position{seg.seq, 0}
		}
		if end.off >= seg.size {
			continue
		}
		data, err := s.readFrom(end, seg.size)
		if err != nil {
			return b, end, err
		}
		for len(data) > 0 {
			f, n, ok := readFrame(data)
			if !ok {
				return b, end, fmt.Errorf("%s is damaged at byte %d", s.path(seg.seq), end.off)
			}
			if b.lines > 0 && len(b.text)+len(f.text) > most {
				return b, end, nil
			}
			b.text = append(b.text, f.text...)
			b.lines += f.lines
			end.off += n
			data = data[n:]
		}
	}
	return b, end, nil
}

func (s *spool) readFrom(at position, size int64) ([]byte, error) {
	f, err := os.Open(s.path(at.seq))
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data := make([]byte, size-at.off)
	_, err = f.ReadAt(data, at.off)
	return data, err
}

// done says that everything before end need not be kept.
func (s *spool) done(end position) error {
	if !s.at.before(end) {
		return nil
	}
	s.at = end
	if err := s.recount(); err != nil {
		return err
	}
	if err := s.writePosition(); err != nil {
		return err
	}
	return s.tidy()
}

// recount brings the number of unread lines of the segment in work up to date.
func (s *spool) recount() error {
	for i := range s.segments {
		if seg := &s.segments[i]; seg.seq == s.at.seq {
			seg.lines = 0
			data, err := s.readFrom(s.at, seg.size)
			for err == nil && len(data) > 0 {
				f, n, ok := readFrame(data)
				if !ok {
					break
				}
				seg.lines += f.lines
				data = data[n:]
			}
			return err
		}
	}
	return nil
}

// tidy removes segments that have been read to their end.
func (s *spool) tidy() error {
	for len(s.segments) > 0 {
		first := s.segments[0]
		if s.at.before(position{first.seq, first.size}) {
			return nil
		}
		if _, err := s.dropOldest(); err != nil {
			return err
		}
	}
	return nil
}

// dropOldest removes the oldest segment and returns how many unread lines
// were in it.
func (s *spool) dropOldest() (lines int, err error) {
	first := s.segments[0]
	if len(s.segments) == 1 {
		err = s.close()
	}
	s.segments = s.segments[1:]
	if s.at.before(position{first.seq, first.size}) {
		s.at = position{first.seq, first.size}
	}
	return first.lines, errors.Join(err, os.Remove(s.path(first.seq)))
}

func (s *spool) close() error {
	if s.writer == nil {
		return nil
	}
	err := s.writer.Close()
	s.writer = nil
	return err
}

func (s *spool) empty() bool { return len(s.segments) == 0 }

func (s *spool) size() int64 {
	var n int64
	for _, seg := range s.segments {
		n += seg.size
	}
	return n
}

func (s *spool) lines() int {
	n := 0
	for _, seg := range s.segments {
		n += seg.lines
	}
	return n
}

func (s *spool) path(seq uint64) string { return filepath.Join(s.dir, fmt.Sprintf(segmentName, seq)) }
