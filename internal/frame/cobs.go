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
	if len(p) == 0 {
		return nil, false
	}
	if len(p) > fullCode {
		return decodeLong(p)
	}
	// No piece is full: each code but the first stands where a zero was.
	i := 0
	for i < len(p) {
		code := int(p[i])
		p[i] = 0
		i += code
	}
	return p[1:], i == len(p)
}

// fullCode is the code of a piece of the greatest length, behind which no zero was.
const fullCode = 0xFF

// decodeLong is decodeCOBS of what may hold full pieces.
func decodeLong(p []byte) (decoded []byte, ok bool) {
	n, i, last := 0, 0, 0
	for i < len(p) {
		code := int(p[i])
		end := i + code
		needless := code == 1 && last == fullCode && end == len(p)
		if end > len(p) || needless {
			return nil, false
		}
		last = code
		n += copy(p[n:], p[i+1:end])
		i = end
		if i < len(p) && code != fullCode {
			p[n] = 0
			n++
		}
	}
	return p[:n], true
}
