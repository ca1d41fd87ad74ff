package access

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"io/fs"
	"os"

	"lastroom/notebooks/whole"
)

// Handles turn ids of the book into words for addresses, so that no id stands
// in an address, a log or a browser's history, and back. The same id gives the
// same word. A word made with another key or changed on the way is refused.
//
// The nonce of the AES-GCM seal is a keyed hash of the id (as in synthetic
// initialisation vectors, RFC 5297): equal ids seal equally, different ones
// meet the same nonce with a chance of 2 to the -48 at 2^24 ids.
type Handles struct {
	seal cipher.AEAD
	mac  []byte
}

// keyBytes is the length of the key file.
const keyBytes = 64

// OpenKey reads the key file of the shop, and makes it where there is none.
func OpenKey(root *os.Root) ([]byte, error) {
	const name = "service.key"
	key, err := root.ReadFile(name)
	if err == nil && len(key) == keyBytes {
		return key, nil
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	key = make([]byte, keyBytes)
	_, _ = rand.Read(key) // never fails since Go 1.24
	return key, whole.Write(root, name, key)
}

// NewHandles are the words of a key.
func NewHandles(key []byte) (Handles, error) {
	block, err := aes.NewCipher(key[:32])
	if err != nil {
		return Handles{}, err
	}
	gcm, err := cipher.NewGCM(block)
	return Handles{gcm, key[32:]}, err
}

// Word is the word of an id.
func (h Handles) Word(kind, id string) string {
	m := hmac.New(sha256.New, h.mac)
	m.Write([]byte(kind + "\x00" + id))
	nonce := m.Sum(nil)[:h.seal.NonceSize()]
	return base64.RawURLEncoding.EncodeToString(h.seal.Seal(nonce, nonce, []byte(id), []byte(kind)))
}

// ID is the id of a word; ok is whether this key made it.
func (h Handles) ID(kind, word string) (id string, ok bool) {
	b, err := base64.RawURLEncoding.DecodeString(word)
	if err != nil || len(b) < h.seal.NonceSize() {
		return "", false
	}
	n := h.seal.NonceSize()
	plain, err := h.seal.Open(nil, b[:n], b[n:], []byte(kind))
	return string(plain), err == nil
}
