package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"telltale/gateway/page/passwords"
)

// longestTyped is how much of a password is read, bytes.
const longestTyped = 4096

func newPassword() *cobra.Command {
	return &cobra.Command{
		Use: "password", Short: "Make a password for the page unreadable, for its file", Args: alone,
		Long: "Reads a password, twice from a terminal or else one line, and prints its Argon2id hash.\n" +
			"Put the hash into the file that password-file names, instead of the password itself:\n" +
			"who can read the file can then not sign in with what stands there.",
		RunE: func(cmd *cobra.Command, _ []string) error {
			text, err := askPassword(cmd)
			if err != nil {
				return err
			}
			hash, err := passwords.New(text)
			if err != nil {
				return fmt.Errorf("the password %w", err)
			}
			_, err = fmt.Fprintln(cmd.OutOrStdout(), hash)
			return err
		},
	}
}

// askPassword reads a password from the terminal, where it is not shown, or
// the first line of what is piped in.
func askPassword(cmd *cobra.Command) (string, error) {
	in, isFile := cmd.InOrStdin().(*os.File)
	if !isFile || !term.IsTerminal(int(in.Fd())) {
		line := bufio.NewScanner(io.LimitReader(cmd.InOrStdin(), longestTyped))
		line.Scan()
		return line.Text(), line.Err()
	}
	var typed [2]string
	for i, ask := range []string{"Password: ", "Once more: "} {
		fmt.Fprint(cmd.ErrOrStderr(), ask)
		text, err := term.ReadPassword(int(in.Fd()))
		fmt.Fprintln(cmd.ErrOrStderr())
		if err != nil {
			return "", fmt.Errorf("the password could not be read: %w", err)
		}
		typed[i] = string(text)
	}
	if typed[0] != typed[1] {
		return "", errors.New("the two are not the same; nothing was made")
	}
	return typed[0], nil
}
