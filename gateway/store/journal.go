package store

import (
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"sync/atomic"
	"time"

	"telltale/alarms"
	"telltale/gateway/store/sqlite"
)

const (
	fillAhead  = 128 << 10 // zeros written ahead of the frames at a time
	maxSegment = 4 << 20   // a new segment is begun beyond this
	peopleRoom = 64 << 10  // of the buffer, kept free of readings
)

// journal is the append-only file of inputs. Only the owner touches it, but
// for the counters.
type journal struct {
	dir    string
	guard  sqlite.Guard
	max    int    // bytes that may wait
	number uint64 // of the segment written to, or of the next one while file is nil

	file *os.File
	off  int64 // where the next frame may begin
	size int64 // filled with zeros up to here

	refs    map[*stream]uint32 // streams defined in this segment
	payload []byte             // the frame that waits
	last    time.Time          // At of its last record
	waiting int                // inputs in it
	newest  time.Time          // newest At of all
	written time.Time          // newest At on disk
	scratch []byte

	counts journalCounts
}

type journalCounts struct {
	bytes, flushes, inputs, dropped atomic.Uint64
	waiting, size                   atomic.Int64
	since                           atomic.Pointer[time.Time] // by Options.Now: when what waits began to; nil: nothing does
	flushed                         atomic.Pointer[time.Time] // by Options.Now: when the journal last reached the disk
}

func newJournal(dir string, number uint64, max int, g sqlite.Guard) *journal {
	return &journal{dir: dir, number: number, max: max, guard: g, refs: map[*stream]uint32{}}
}

// add puts in at the end of the frame that waits; st is its stream if it is a
// plain reading. It returns false, and counts, when there is no room for it.
func (j *journal) add(in alarms.Input, st *stream) bool {
	if in.At.After(j.newest) {
		j.newest = in.At
	}
	if in.Kind == alarms.Tick {
		return true
	}
	room := j.max
	if in.Kind == alarms.ReadingIn || in.Kind == alarms.GarbledIn {
		room -= peopleRoom
	}
	if len(j.payload) >= room {
		j.counts.dropped.Add(1)
		return false
	}
	j.record(in, st)
	j.waiting++
	j.counts.waiting.Store(int64(j.waiting))
	return true
}

func (j *journal) record(in alarms.Input, st *stream) {
	if len(j.payload) == 0 {
		j.last = in.At
		j.payload = appendZigzag(j.payload, in.At.UnixMilli())
	}
	prev := j.last.UnixMilli()
	if st == nil {
		j.payload = appendAny(j.payload, in, prev)
	} else {
		ref, ok := j.refs[st]
		if !ok {
			ref = uint32(len(j.refs))
			j.refs[st] = ref
			j.payload = appendDefine(j.payload, ref, st.name)
		}
		j.payload, st.guess = appendReading(j.payload, in, ref, prev, min(st.guess, maxExp))
	}
	j.last = in.At
}

// due reports whether flush has something to write: inputs, or a sign of life
// when the last one is older than every.
func (j *journal) due(every time.Duration) bool {
	return j.waiting > 0 || j.newest.Sub(j.written) >= every && j.newest.After(j.written)
}

// flush writes the frame that waits, with the newest time, and has the disk
// confirm it. On error everything still waits, and the next flush writes it to
// the same place again.
func (j *journal) flush() error {
	mark, last := len(j.payload), j.last
	if mark == 0 || j.newest.After(j.last) {
		j.record(alarms.Input{At: j.newest, Kind: alarms.Tick}, nil)
	}
	err := j.write()
	if err != nil {
		j.payload, j.last = j.payload[:mark], last
		return err
	}
	j.counts.inputs.Add(uint64(j.waiting))
	j.counts.flushes.Add(1)
	j.counts.waiting.Store(0)
	j.payload, j.waiting, j.written = j.payload[:0], 0, j.newest
	return nil
}

func (j *journal) write() error {
	if j.file == nil {
		if err := j.begin(); err != nil {
			return err
		}
	}
	at := place(j.off, len(j.payload))
	b := binary.LittleEndian.AppendUint32(j.scratch[:0], uint32(len(j.payload)))
	b = binary.LittleEndian.AppendUint32(b, frameCRC(j.number, at, j.payload))
	b = append(b, j.payload...)
	if cap(b) <= 4*pageSize {
		j.scratch = b
	}
	end := at + int64(len(b))
	if err := j.put(b, at); err != nil {
		return err
	}
	if end > j.size {
		j.size = end
		j.fill()
	}
	if err := sqlite.DataSync(j.file); err != nil {
		return err
	}
	j.off = end
	j.counts.size.Store(end)
	return nil
}

func (j *journal) put(b []byte, at int64) error {
	if err := j.guard.Before(j.file.Name(), len(b)); err != nil {
		return err
	}
	n, err := j.file.WriteAt(b, at)
	j.counts.bytes.Add(uint64(n))
	return err
}

// fill writes zeros ahead of the frames. A file system may keep what one call
// wrote as one piece and write all of it again when a part changes, so it goes
// page by page. If the disk has no room for it the frames alone go on.
func (j *journal) fill() {
	var zeros [pageSize]byte
	for to := (j.size/fillAhead + 1) * fillAhead; j.size < to; {
		n := pageSize - j.size%pageSize
		if j.put(zeros[:n], j.size) != nil {
			return
		}
		j.size += n
	}
}

// begin creates the segment. Its header reaches the disk with the first frame.
func (j *journal) begin() error {
	path := filepath.Join(j.dir, segmentName(j.number))
	if err := j.guard.Before(path, segmentHead); err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_TRUNC, 0o640)
	if err != nil {
		return err
	}
	n, err := f.WriteAt(appendSegmentHead(nil, j.number), 0)
	j.counts.bytes.Add(uint64(n))
	if err == nil {
		err = SyncDir(j.dir)
	}
	if err != nil {
		return errors.Join(err, f.Close(), os.Remove(path))
	}
	j.file, j.off, j.size = f, segmentHead, segmentHead
	return nil
}

// rotate ends the segment; the next flush begins another. All that waited must
// have been flushed.
func (j *journal) rotate() error {
	if j.file == nil {
		return nil
	}
	err := j.file.Close()
	j.file, j.off, j.size = nil, 0, 0
	j.number++
	clear(j.refs)
	return err
}

// restart has the next segment be n. What waits may name streams that a segment
// of before defined, so all are defined again in front of it.
func (j *journal) restart(n uint64) {
	j.file, j.off, j.size, j.number = nil, 0, 0, n
	if len(j.payload) == 0 {
		clear(j.refs)
		return
	}
	_, head := binary.Varint(j.payload)
	again := slices.Clone(j.payload[:head])
	for st, ref := range j.refs {
		again = appendDefine(again, ref, st.name)
	}
	j.payload = append(again, j.payload[head:]...)
}

// full reports whether the segment has grown enough to begin another.
func (j *journal) full() bool { return j.off >= maxSegment }

// Append takes an input for the journal and, if it is a reading, for the
// history. It only touches memory; Sync makes it last. Give it every input
// before the core applies it, ticks too, but not those that Recover returned.
// Times of whole milliseconds take the least room. When the disk has refused
// for so long that there is no room, the input is counted in Stats.Dropped and
// not kept; some room is set aside for what people do.
func (s *Store) Append(in alarms.Input) {
	s.journal.add(in, s.History.recent.take(in))
	if s.journal.waiting > 0 && s.journal.counts.since.Load() == nil {
		now := s.opt.Now()
		s.journal.counts.since.Store(&now)
	}
}

// Sync writes what waits to the journal and returns once the disk has it. When
// nothing waits it does nothing, but for the time of the newest tick once in
// AliveEvery. The error is a *DiskError; then everything still waits.
func (s *Store) Sync() error {
	if !s.journal.due(s.opt.AliveEvery) {
		return nil
	}
	return s.flush()
}

// flush journals what waits and the newest time.
func (s *Store) flush() error {
	if err := s.attached(); err != nil && !s.earlier.Load() {
		return s.disk.fault("save readings", err)
	}
	if err := s.journal.flush(); err != nil {
		return s.disk.fault("save readings", err)
	}
	now := s.opt.Now()
	s.journal.counts.flushed.Store(&now)
	s.journal.counts.since.Store(nil)
	if s.journal.full() {
		return s.disk.fault("begin a new journal", s.journal.rotate())
	}
	s.disk.refused.Store(false)
	return nil
}
