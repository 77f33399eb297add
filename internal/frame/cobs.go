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

// decodeCOBS undoes appendCOBS. It writes to dst, which must have room for all of src and may be
// src itself; ok is false when src is empty or ends within a piece. src must hold no zero. It
// accepts exactly what appendCOBS makes.
func decodeCOBS(dst, src []byte) (decoded []byte, ok bool) {
	if len(src) == 0 {
		return nil, false
	}
	if len(src) > fullCode {
		return decodeLong(dst, src)
	}
	// As no piece is full, each code but the first stands where a zero was.
	dst = dst[:len(src)]
	copy(dst, src)
	i := 0
	for i < len(src) {
		code := int(src[i])
		dst[i] = 0
		i += code
	}
	return dst[1:], i == len(src)
}

// fullCode is the code of the longest piece, after which there was no zero.
const fullCode = 0xFF

// decodeLong is decodeCOBS of a src that may hold full pieces.
func decodeLong(dst, src []byte) (decoded []byte, ok bool) {
	n, i, last := 0, 0, 0
	for i < len(src) {
		code := int(src[i])
		end := i + code
		needless := code == 1 && last == fullCode && end == len(src)
		if end > len(src) || needless {
			return nil, false
		}
		last = code
		n += copy(dst[n:], src[i+1:end])
		i = end
		if i < len(src) && code != fullCode {
			dst[n] = 0
			n++
		}
	}
	return dst[:n], true
}
