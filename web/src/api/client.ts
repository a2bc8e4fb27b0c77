// The one door to the server. A failure is a sentence; a server that is away is told apart from one that refuses.
import type { Arguments, Failure, Operations } from "./types";

export type OperationName = keyof Operations;

/** Every change may say who, why, and on which revision it was made. */
type EveryChange<K extends OperationName> = Arguments[K] & { who?: string; why?: string; expected_revision?: number };

export class Refused extends Error {
  constructor(readonly failure: Failure, readonly code: number) {
    super(failure.sentence);
  }
}
export class Away extends Error {
  constructor() {
    super("The server is away.");
  }
}

const UNKNOWN: Failure = { status: "machine", sentence: "The server gave no reason.", page: "", row: 0, column: 0 };

async function failureOf(response: Response): Promise<Failure> {
  try {
    const body = (await response.json()) as { error?: Failure };
    return body.error ?? UNKNOWN;
  } catch {
    return UNKNOWN;
  }
}

export async function call<K extends OperationName>(name: K, args: Arguments[K] | EveryChange<K> = {} as Arguments[K], signal?: AbortSignal): Promise<Operations[K]> {
  let response: Response;
  try {
    response = await fetch(`/api/${name}`, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(args),
      signal: signal ?? null,
    });
  } catch (error) {
    if (signal?.aborted) throw error;
    throw new Away();
  }
  if (!response.ok) throw new Refused(await failureOf(response), response.status);
  return (await response.json()) as Operations[K];
}

/** A file too large for a request's words goes as it is. @param sent share of it that has left, 0 to 1 */
export function upload(operation: "cloud", file: File, args: Arguments["cloud"], sent: (share: number) => void): Promise<Operations["cloud"]> {
  const name = file.name.replace(/[^A-Za-z0-9._-]+/g, "-").replace(/^\.+/, "").slice(-120) || "scan";
  return new Promise((done, failed) => {
    const request = new XMLHttpRequest(); /* fetch tells nothing of how far it is */
    request.open("POST", `/api/upload/${operation}?name=${encodeURIComponent(name)}&arguments=${encodeURIComponent(JSON.stringify(args))}`);
    request.setRequestHeader("Content-Type", "application/octet-stream");
    request.upload.onprogress = (e) => { if (e.lengthComputable) sent(e.loaded / e.total); };
    request.onerror = request.onabort = () => failed(new Away());
    request.onload = () => {
      const answer = (() => { try { return JSON.parse(request.responseText) as unknown; } catch { return null; } })();
      if (request.status === 200 && answer) done(answer as Operations["cloud"]);
      else failed(new Refused((answer as { error?: Failure } | null)?.error ?? UNKNOWN, request.status));
    };
    request.send(file);
  });
}

/** Address of a download: the operation writes the file, its ending says which kind. */
export function downloadAddress(operation: string, name: string, args: object): string {
  return `/api/download/${operation}?name=${encodeURIComponent(name)}&arguments=${encodeURIComponent(JSON.stringify(args))}`;
}

/** "tape.csv, row 4, column 3: ..." */
export function sentenceOf(failure: Failure): string {
  const place = [failure.page, failure.row || failure.page ? `row ${failure.row || 1}` : "", failure.column ? `column ${failure.column}` : ""].filter(Boolean).join(", ");
  return place ? `${place}: ${failure.sentence}` : failure.sentence;
}

export function saidOf(error: unknown): string {
  if (error instanceof Refused) return sentenceOf(error.failure);
  return error instanceof Error ? error.message : String(error);
}
