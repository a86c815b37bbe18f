/** The check sum of zip and gzip: CRC-32 with the polynomial 0xEDB88320 (RFC 1952, section 8). */

/** Eight tables: of a byte, and of a byte with 1 to 7 zero bytes after it, so that eight bytes are taken in one step. */
const TABLES = Array.from({ length: 8 }, () => new Uint32Array(256));
for (let n = 0; n < 256; n++) {
  let c = n;
  for (let k = 0; k < 8; k++) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
  (TABLES[0] as Uint32Array)[n] = c;
}
for (let t = 1; t < 8; t++) {
  for (let n = 0; n < 256; n++) {
    const c = (TABLES[t - 1] as Uint32Array)[n] as number;
    (TABLES[t] as Uint32Array)[n] = ((TABLES[0] as Uint32Array)[c & 0xff] as number) ^ (c >>> 8);
  }
}

/** The sum of `bytes` after data whose sum is `before`; 0 at the start. */
export function crc32(bytes: Uint8Array, before = 0): number {
  const [t0, t1, t2, t3, t4, t5, t6, t7] = TABLES as [
    Uint32Array,
    Uint32Array,
    Uint32Array,
    Uint32Array,
    Uint32Array,
    Uint32Array,
    Uint32Array,
    Uint32Array,
  ];
  let c = ~before;
  let i = 0;
  for (const whole = bytes.length - 7; i < whole; i += 8) {
    const low =
      c ^ ((bytes[i] as number) | ((bytes[i + 1] as number) << 8) | ((bytes[i + 2] as number) << 16) | ((bytes[i + 3] as number) << 24));
    c =
      (t7[low & 0xff] as number) ^
      (t6[(low >>> 8) & 0xff] as number) ^
      (t5[(low >>> 16) & 0xff] as number) ^
      (t4[low >>> 24] as number) ^
      (t3[bytes[i + 4] as number] as number) ^
      (t2[bytes[i + 5] as number] as number) ^
      (t1[bytes[i + 6] as number] as number) ^
      (t0[bytes[i + 7] as number] as number);
  }
  for (; i < bytes.length; i++) c = (t0[(c ^ (bytes[i] as number)) & 0xff] as number) ^ (c >>> 8);
  return ~c >>> 0;
}
