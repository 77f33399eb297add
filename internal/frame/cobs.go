package frame

// appendCOBS appends the Consistent Overhead Byte Stuffing of src to dst,
// without delimiters. The appended bytes hold no zero. Empty src gives 01.
func appendCOBS(dst, src []byte) []byte {
	code := len(dst)
	dst = append(dst, 1)
	for i, b := range src {
		if b == 0 {
			code = len(dst)
			dst = append(dst, 1)
			continue
		}
		dst = append(dst, b)
		dst[code]++
		if dst[code] == 0xFF && i+1 < len(src) {
			code = len(dst)
			dst = append(dst, 1)
		}
	}
	return dst
}

// decodeCOBS undoes appendCOBS in place and returns the decoded prefix of p;
// ok is false when p is empty or ends within a piece. p holds no zero. It
// accepts exactly what appendCOBS makes.
func decodeCOBS(p []byte) (decoded []byte, ok bool) {
	n, i, last := 0, 0, 0
	for i < len(p) {
		code := int(p[i])
		end := i + code
		needless := code == 1 && last == 0xFF && end == len(p)
		if end > len(p) || needless {
			return nil, false
		}
		last = code
		for _, b := range p[i+1 : end] {
			p[n] = b
			n++
		}
		i = end
		if i < len(p) && code != 0xFF {
			p[n] = 0
			n++
		}
	}
	return p[:n], len(p) > 0
}
