package export

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// position is a place in the spool; positions grow with time.
type position struct {
	seq uint64
	off int64
}

func (p position) compare(q position) int {
	return cmp.Or(cmp.Compare(p.seq, q.seq), cmp.Compare(p.off, q.off))
}

func (p position) before(q position) bool { return p.compare(q) < 0 }

// readPosition returns where reading stopped; if that is not known everything
// is sent again, which does no harm.
func (s *spool) readPosition() (p position) {
	data, err := os.ReadFile(filepath.Join(s.dir, positionFile))
	if err != nil {
		return position{}
	}
	if n, err := fmt.Sscanf(string(data), "%d %d\n", &p.seq, &p.off); n != 2 || err != nil {
		return position{}
	}
	return p
}

func (s *spool) writePosition() error {
	path := filepath.Join(s.dir, positionFile)
	f, err := os.OpenFile(path+".new", os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o640)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(f, "%d %d\n", s.at.seq, s.at.off)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(path+".new", path)
}

func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = d.Sync()
	if errors.Is(err, fs.ErrInvalid) {
		err = nil // some file systems cannot sync a directory
	}
	return errors.Join(err, d.Close())
}
