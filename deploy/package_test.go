//go:build linux

package deploy

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"debug/elf"
	"errors"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// TestPackages: one command builds them, each for the board that it names; they
// hold what they should, install in a bare Debian and make an image.
func TestPackages(t *testing.T) {
	if os.Getenv("TELLTALE_REQUIRE_INSTALL") != "1" {
		t.Skip("the packages were not built: that takes a while, and TELLTALE_REQUIRE_INSTALL=1 asks for it")
	}
	dir, arch := t.TempDir(), debianArch(t)
	packed(t, "1.0.0", dir, []string{"amd64", "arm64", "armhf"})
	names := list(t, dir)
	if want := []string{"telltale-1.0.0-linux-amd64.tar.gz", "telltale-1.0.0-linux-arm64.tar.gz", "telltale-1.0.0-linux-armhf.tar.gz",
		"telltale_1.0.0_amd64.deb", "telltale_1.0.0_arm64.deb", "telltale_1.0.0_armhf.deb"}; !slices.Equal(names, want) {
		t.Fatalf("got %q, want %q", names, want)
	}
	for _, name := range names {
		if strings.HasSuffix(name, ".deb") {
			debIsRight(t, filepath.Join(dir, name))
		} else {
			tarIsRight(t, filepath.Join(dir, name))
		}
	}
	t.Run("the same again", func(t *testing.T) { same(t, dir, arch) })
	t.Run("image", func(t *testing.T) { image(t, dir, arch) })
	t.Run("installed", func(t *testing.T) { installed(t, dir, arch) })
}

// same demands the same bytes of one commit, whoever builds it and when.
func same(t *testing.T, once, arch string) {
	again := t.TempDir()
	packed(t, "1.0.0", again, []string{arch}, "TZ=Etc/GMT-9", "LC_ALL=C.UTF-8", "SOURCE_DATE_EPOCH=1", "TMPDIR="+t.TempDir())
	for _, name := range list(t, again) {
		if read(t, filepath.Join(once, name)) != read(t, filepath.Join(again, name)) {
			t.Errorf("%s is not the same when it is built again", name)
		}
	}
}

func list(t *testing.T, dir string) (names []string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// unpackedTar is what a tar holds: its files by name, and each mode.
func unpackedTar(t *testing.T, r io.Reader) (files map[string]string, modes map[string]int64) {
	t.Helper()
	files, modes = map[string]string{}, map[string]int64{}
	for r := tar.NewReader(r); ; {
		h, err := r.Next()
		if errors.Is(err, io.EOF) {
			return files, modes
		}
		if err != nil {
			t.Fatal(err)
		}
		if h.Uid != 0 || h.Gid != 0 {
			t.Errorf("%s belongs to %d:%d", h.Name, h.Uid, h.Gid)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		name := strings.TrimPrefix(h.Name, ".")
		files[name], modes[name] = string(text), h.Mode&0o7777
	}
}

// machines are the kinds of processor by Debian's names for them.
var machines = map[string]elf.Machine{"amd64": elf.EM_X86_64, "arm64": elf.EM_AARCH64, "armhf": elf.EM_ARM}

// isFor demands that a program is for a kind of board, and needs no library of it.
func isFor(t *testing.T, program, arch string) {
	t.Helper()
	f, err := elf.NewFile(strings.NewReader(program))
	if err != nil {
		t.Fatalf("%s: %v", arch, err)
	}
	if libs, err := f.ImportedLibraries(); f.Machine != machines[arch] || len(libs) > 0 || err != nil {
		t.Errorf("the program for %s is for %v and needs %q (%v)", arch, f.Machine, libs, err)
	}
}

func debIsRight(t *testing.T, file string) {
	t.Helper()
	_, err := exec.LookPath("dpkg-deb")
	require(t, err == nil, "dpkg-deb is not installed")
	data, err := exec.Command("dpkg-deb", "--fsys-tarfile", file).Output()
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	files, modes := unpackedTar(t, bytes.NewReader(data))
	arch := strings.TrimSuffix(file[strings.LastIndex(file, "_")+1:], ".deb")
	isFor(t, files["/usr/bin/telltale"], arch)
	fields, err := exec.Command("dpkg-deb", "--field", file, "Package", "Version", "Architecture", "Maintainer").Output()
	if want := "Package: telltale\nVersion: 1.0.0\nArchitecture: " + arch + "\nMaintainer: Thimble Garth <packages@example.org>\n"; err != nil || string(fields) != want {
		t.Errorf("%s is\n%s(%v), want\n%s", file, fields, err, want)
	}
	for name, mode := range map[string]int64{"/usr/bin/telltale": 0o755, "/etc/telltale/": 0o755, "/etc/telltale/secrets/": 0o700, "/usr/lib/systemd/system/telltale.service": 0o644} {
		if modes[name] != mode {
			t.Errorf("%s: the mode of %s is %o, want %o", file, name, modes[name], mode)
		}
	}
	for name := range modes {
		if strings.HasPrefix(name, "/etc/") && !strings.HasSuffix(name, "/") {
			t.Errorf("%s: %s would be a garden or secret of nobody's", file, name)
		}
	}
	const doc = "/usr/share/doc/telltale/"
	for name, of := range map[string]string{doc + "notices.txt": "notices.txt", doc + "examples/thimble-garth.toml": "thimble-garth.toml",
		doc + "examples/broker.conf": "broker.conf", doc + "examples/broker.acl": "broker.acl", doc + "examples/scrape.yml": "scrape.yml", doc + "README.md": "../README.md"} {
		if files[name] != read(t, of) {
			t.Errorf("%s: %s is not %s", file, name, of)
		}
	}
	if want := strings.ReplaceAll(read(t, "telltale.service"), "/usr/local/bin/", "/usr/bin/"); files["/usr/lib/systemd/system/telltale.service"] != want {
		t.Errorf("%s: the unit is\n%s", file, files["/usr/lib/systemd/system/telltale.service"])
	}
	// Debian Policy 4.6.2, 12.5 (copyright) and 12.7 (changelog).
	if got := files[doc+"copyright"]; !strings.Contains(got, "\nLicense: Expat\n Permission is hereby granted, free of charge") || !strings.Contains(got, "THE SOFTWARE IS PROVIDED \"AS IS\"") {
		t.Errorf("%s: the copyright file has\n%s", file, got)
	}
	for _, name := range []string{doc + "changelog.gz", "/usr/share/bash-completion/completions/telltale", "/usr/share/zsh/vendor-completions/_telltale", "/usr/share/fish/vendor_completions.d/telltale.fish"} {
		if files[name] == "" {
			t.Errorf("%s has no %s", file, name)
		}
	}
}

// tarIsRight demands a folder in which README.md is right.
func tarIsRight(t *testing.T, file string) {
	t.Helper()
	packed, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer packed.Close()
	r, err := gzip.NewReader(packed)
	if err != nil {
		t.Fatal(err)
	}
	files, modes := unpackedTar(t, r)
	folder := strings.TrimSuffix(filepath.Base(file), ".tar.gz") + "/"
	for name := range maps.Keys(modes) {
		if !strings.HasPrefix(name, folder) {
			t.Errorf("%s: %s lies outside of its folder", file, name)
		}
	}
	isFor(t, files[folder+"telltale"], folder[strings.LastIndex(folder, "-")+1:len(folder)-1])
	if modes[folder+"telltale"] != 0o755 {
		t.Errorf("%s: the mode of the program is %o", file, modes[folder+"telltale"])
	}
	readme := files[folder+"README.md"]
	for _, m := range regexp.MustCompile(`\]\(([a-zA-Z][^):#]*)[^)]*\)`).FindAllStringSubmatch(readme, -1) {
		if _, ok := modes[folder+m[1]]; !ok && modes[folder+m[1]+"/"] == 0 && m[1] != "DEVELOPERS.md" {
			t.Errorf("%s: README.md names %s, which is not there", file, m[1])
		}
	}
	// What the image is made of.
	for _, m := range regexp.MustCompile(`(?m)^COPY (?:--\S+ )*(.*) \S+$`).FindAllStringSubmatch(read(t, "Containerfile"), -1) {
		for name := range strings.FieldsSeq(m[1]) {
			if _, ok := modes[folder+name]; !ok {
				t.Errorf("%s: the image wants %s, which is not there", file, name)
			}
		}
	}
}

// image builds the image of the unpacked tar and has it run a command.
func image(t *testing.T, packages, arch string) {
	_, err := exec.LookPath("buildah")
	require(t, err == nil, "buildah is not installed")
	dir := t.TempDir()
	if out, err := exec.Command("tar", "-xzf", filepath.Join(packages, "telltale-1.0.0-linux-"+arch+".tar.gz"), "-C", dir, "--strip-components=1").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	stores := t.TempDir()
	tool := func(args ...string) string {
		cmd := exec.Command("buildah", append([]string{"--storage-driver", "vfs", "--root", stores + "/root", "--runroot", stores + "/run"}, args...)...)
		cmd.Dir = dir
		var said bytes.Buffer
		cmd.Stderr = &said
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("buildah %q: %v\n%s%s", args, err, out, said.String())
		}
		return strings.TrimSpace(string(out))
	}
	tool("build", "--isolation", "chroot", "--pull-never", "--tag", "telltale", "--file", "deploy/Containerfile", ".")
	box := tool("from", "--pull-never", "telltale")
	if got := tool("run", "--isolation", "chroot", box, "--", "/usr/local/bin/telltale", "version"); !strings.HasPrefix(got, "telltale 1.0.0 (") {
		t.Errorf("the image's program says %q", got)
	}
	if got := tool("inspect", "--type", "image", "--format", "{{.OCIv1.Config.User}} {{.OCIv1.Config.Entrypoint}} {{.OCIv1.Config.Cmd}}", "telltale"); got != "65532:65532 [/usr/local/bin/telltale] [watch /etc/telltale/garden.toml]" {
		t.Errorf("the image runs %q", got)
	}
	mounted := tool("mount", box)
	defer tool("umount", box)
	for _, name := range []string{"telltale", "telltale-id"} {
		out, err := exec.Command("stat", "--format", "%u:%g", filepath.Join(mounted, "var/lib", name)).Output()
		if strings.TrimSpace(string(out)) != "65532:65532" {
			t.Errorf("the folder of %s belongs to %q (%v)", name, out, err)
		}
	}
}
