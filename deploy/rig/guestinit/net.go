//go:build linux && amd64

package main

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"net"
	"strings"
	"syscall"
	"time"
	"unsafe"
)

// loopback switches the guest's only network on: a program under test serves
// its pages there and reaches nothing beyond.
func loopback() error {
	s, err := syscall.Socket(syscall.AF_INET, syscall.SOCK_DGRAM, 0)
	if err != nil {
		return fmt.Errorf("cannot open a socket: %w", err)
	}
	defer syscall.Close(s)
	var request [40]byte // struct ifreq: 16 bytes of name, then the flags
	copy(request[:], "lo")
	binary.NativeEndian.PutUint16(request[16:], syscall.IFF_UP|syscall.IFF_RUNNING)
	if _, _, e := syscall.Syscall(syscall.SYS_IOCTL, uintptr(s), syscall.SIOCSIFFLAGS, uintptr(unsafe.Pointer(&request))); e != 0 {
		return fmt.Errorf("cannot switch the loopback on: %w", e)
	}
	return nil
}

// page is where a program under test serves, and pageTime how long it may take.
const (
	page     = "127.0.0.1:8080"
	pageTime = 5 * time.Second
)

// fetch reads one page.
func fetch(path string) (string, error) {
	return ask("GET " + path + " HTTP/1.0\r\nHost: localhost\r\n\r\n")
}

// post sends a form, with a session's token if there is one.
func post(path, form, token string) (string, error) {
	head := fmt.Sprintf("POST %s HTTP/1.0\r\nHost: localhost\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: %d\r\n", path, len(form))
	if token != "" {
		head += "Authorization: Bearer " + token + "\r\n"
	}
	return ask(head + "\r\n" + form)
}

// ask speaks HTTP/1.0, which keeps the answer in one piece.
func ask(request string) (string, error) {
	c, err := net.DialTimeout("tcp", page, pageTime)
	if err != nil {
		return "", err
	}
	defer c.Close()
	if err := c.SetDeadline(time.Now().Add(pageTime)); err != nil {
		return "", err
	}
	if _, err := io.WriteString(c, request); err != nil {
		return "", err
	}
	answer, err := io.ReadAll(c)
	if err != nil {
		return "", fmt.Errorf("cannot read the answer: %w", err)
	}
	head, body, _ := bytes.Cut(answer, []byte("\r\n\r\n"))
	status, _, _ := strings.Cut(string(head), "\r\n")
	text := strings.TrimSpace(string(body))
	if !strings.Contains(status, " 200 ") {
		return "", fmt.Errorf("answered %s: %.200s", status, text)
	}
	return text, nil
}
