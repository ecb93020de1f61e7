package config

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"telltale/alarms/tongue"
)

// maxSecret is the longest secret that is read, bytes.
const maxSecret = 4096

// credentials is the variable in which the service manager names the folder
// that holds the secrets it hands over.
const credentials = "CREDENTIALS_DIRECTORY"

// path makes a relative file name count from the folder of the configuration.
func (r *reader) path(name string) string {
	if filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(r.dir, name)
}

// secretPath is path, but a relative name is looked for in the service manager's
// folder first. That is flat: what it took from a folder has the folder's name,
// an underscore and its own, so secrets/mail is there as secrets_mail
// (systemd.exec(5), LoadCredential=).
func (r *reader) secretPath(name string) string {
	if dir, ok := r.env(credentials); ok && dir != "" && filepath.IsLocal(name) {
		if full := filepath.Join(dir, strings.ReplaceAll(filepath.ToSlash(name), "/", "_")); exists(full) {
			return full
		}
	}
	return r.path(name)
}

func exists(path string) bool { _, err := os.Stat(path); return err == nil }

// secret reads the secret called key from the file that key-file names or the
// environment variable that key-env names. The key itself is refused.
func (t *table) secret(key string) value[Secret] {
	t.plainSecret(key)
	file, env := t.text(key+"-file"), t.text(key+"-env")
	out := value[Secret]{Seen: file.Seen || env.Seen, at: file.at}
	switch {
	case file.Seen && env.Seen:
		t.problem(env.at, "is one too many: %s-file is given too; keep one of them", key)
	case file.Set:
		out.V, out.Set = t.r.secretFile(file)
	case env.Set:
		out.at = env.at
		out.V, out.Set = t.r.secretEnv(env)
	}
	return out
}

// plainSecret refuses a secret written into the file, without repeating it.
func (t *table) plainSecret(key string) {
	if _, ok := t.ask(key); ok {
		t.problem(t.spot(key), "is a secret and does not belong into this file: write it into a file of its own and name that with %s-file, or into an environment variable and name that with %s-env", key, key)
	}
	// Do not offer it among the known keys.
	t.asked[len(t.asked)-1] = key + "-file"
	if t.has(key) {
		t.asked = append(t.asked, key)
	}
}

func (r *reader) secretFile(name value[string]) (Secret, bool) {
	path := r.secretPath(name.V)
	if text, ok := r.fresh[name.V]; ok {
		return r.oneLine(name.at, text, tongue.Put("what was typed"))
	}
	info, err := os.Stat(path)
	if err != nil {
		r.problem(name.at, "cannot be read: %s (%s)", Reason(err), path)
		return Secret{}, false
	}
	if !info.Mode().IsRegular() || info.Size() > maxSecret {
		r.problem(name.at, "must be a plain file of at most %d bytes that holds the secret alone (%s)", maxSecret, path)
		return Secret{}, false
	}
	data, err := os.ReadFile(path)
	if err != nil {
		r.problem(name.at, "cannot be read: %s (%s)", Reason(err), path)
		return Secret{}, false
	}
	r.named = append(r.named, Named{As: name.V, Path: path})
	if info.Mode().Perm()&0o004 != 0 {
		r.warn(name.at, "can be read by everybody on this machine; run chmod 600 on it (%s)", path)
	}
	return r.oneLine(name.at, string(bytes.TrimSuffix(bytes.TrimSuffix(data, []byte("\n")), []byte("\r"))), tongue.Put("the file %s", path))
}

func (r *reader) secretEnv(name value[string]) (Secret, bool) {
	text, ok := r.env(name.V)
	r.fromEnv = append(r.fromEnv, name.V)
	if !ok {
		r.problem(name.at, "names an environment variable that is not set (%s)", name.V)
		return Secret{}, false
	}
	return r.oneLine(name.at, text, tongue.Put("the environment variable %s", name.V))
}

// oneLine refuses what cannot be a secret, without repeating it.
func (r *reader) oneLine(at place, text string, where tongue.Saying) (Secret, bool) {
	switch {
	case strings.TrimSpace(text) == "":
		r.problem(at, "holds nothing: %s is empty", where)
		return Secret{}, false
	case strings.ContainsAny(text, "\n\r\x00"):
		r.problem(at, "must hold the secret in one line and nothing else: %s has more", where)
		return Secret{}, false
	}
	return NewSecret(text), true
}

// checkFile tells a file that could not be written to, because its folder is
// not there or because it is a folder itself.
func (r *reader) checkFile(at place, path string) {
	folder := filepath.Dir(path)
	info, err := os.Stat(folder)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		r.problem(at, "must be a file in a folder that is there: make the folder %s, or name another file", folder)
		return
	case err != nil:
		r.problem(at, "cannot be written to: %s (%s)", Reason(err), folder)
		return
	case !info.IsDir():
		r.problem(at, "must be a file in a folder, and %s is no folder", folder)
		return
	}
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		r.problem(at, "must be a file, and %s is a folder", path)
	}
}

// Reason is the cause of a file error without the path, which is said beside it.
func Reason(err error) tongue.Saying {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return tongue.Put("there is no such file")
	case errors.Is(err, fs.ErrPermission):
		return tongue.Put("permission is missing")
	}
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return tongue.Bare(pe.Err.Error())
	}
	return tongue.Bare(err.Error())
}
