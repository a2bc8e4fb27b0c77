// A file's bytes as a page's text, or the sentence why they are none: the core's own checks, made here as well because
// JSON cannot carry bytes that are not text. A trial holds them against the command line's answers.
export type ReadFile = { text: string } | { row: number; sentence: string };

const MOST_MB = 64;

/** Before anything is read: a scan is not pulled through the page. */
export function tooLarge(size: number): { row: number; sentence: string } | null {
  return size <= MOST_MB * 2 ** 20 ? null : { row: 1, sentence: `The file has ${Math.floor(size / 2 ** 20)} MB; a field page holds at most ${MOST_MB} MB. A scan comes in thinned, as points.` };
}

const rowAt = (bytes: Uint8Array, end: number): number => bytes.subarray(0, end).reduce((rows, b) => rows + (b === 10 ? 1 : 0), 1);

/** Where the bytes stop being UTF-8: the longest beginning that can be read, found by halving. */
function firstFault(bytes: Uint8Array): number {
  let [good, bad] = [0, bytes.length];
  const reads = (end: number): boolean => {
    try {
      new TextDecoder("utf-8", { fatal: true }).decode(bytes.subarray(0, end), { stream: true });
      return true;
    } catch {
      return false;
    }
  };
  while (bad - good > 1) {
    const middle = (good + bad) >> 1;
    if (reads(middle)) good = middle;
    else bad = middle;
  }
  for (let back = 1; back <= 3 && back <= good; back++) {
    const lead = bytes[good - back]!;
    if ((lead & 0xc0) === 0x80) continue;
    const length = lead >= 0xf0 ? 4 : lead >= 0xe0 ? 3 : lead >= 0xc0 ? 2 : 1;
    return back < length ? good - back : good; /* a sequence that was begun and not ended */
  }
  return good;
}

export function readBytes(bytes: Uint8Array): ReadFile {
  const [a, b] = bytes;
  if ((a === 0xff && b === 0xfe) || (a === 0xfe && b === 0xff)) return { row: 1, sentence: "The file is UTF-16 text; save it as CSV with UTF-8 encoding." };
  const control = bytes.findIndex((c) => c < 0x20 && c !== 9 && c !== 10 && c !== 13);
  const fault = ((): number => {
    try {
      new TextDecoder("utf-8", { fatal: true }).decode(bytes);
      return -1;
    } catch {
      return firstFault(bytes);
    }
  })();
  if (control >= 0 && (fault < 0 || control < fault)) return { row: rowAt(bytes, control), sentence: `This is not a text file (byte ${bytes[control]} at position ${control + 1}); export the page as CSV, UTF-8.` };
  if (fault >= 0) return { row: rowAt(bytes, fault), sentence: `Byte ${fault + 1} is not UTF-8 text; save the page as CSV with UTF-8 encoding.` };
  return { text: new TextDecoder("utf-8", { ignoreBOM: true }).decode(bytes) }; /* the core says that there was a mark */
}
