import { createInterface } from 'node:readline';
import type { Readable } from 'node:stream';
import { StationError } from '../errors.ts';

/** A picture of a finding is some 100 kB; a comparison of many locations less than 1 MB. */
const LONGEST_LINE = 4_000_000;

/** JSON of a short entry. @throws StationError ARCHIVE_FILE */
export async function jsonOf(name: string, content: Readable, mostBytes: number): Promise<unknown> {
  const chunks: Buffer[] = [];
  let bytes = 0;
  for await (const chunk of content as AsyncIterable<Buffer>) {
    bytes += chunk.length;
    if (bytes > mostBytes) throw damaged(name, `is longer than ${mostBytes / 1e6} MB`);
    chunks.push(chunk);
  }
  return parsed(name, Buffer.concat(chunks).toString('utf8'));
}

/** JSON of each line of an entry, with its number. @throws StationError ARCHIVE_FILE */
export async function* jsonLinesOf(
  name: string,
  content: Readable,
): AsyncGenerator<{ line: number; value: unknown }> {
  let line = 0;
  for await (const text of createInterface({ input: bounded(name, content), crlfDelay: Infinity })) {
    line++;
    if (text !== '') yield { line, value: parsed(`${name}, line ${line}`, text) };
  }
}

/** A line without an end would be gathered in memory until there is none left. */
function bounded(name: string, content: Readable): Readable {
  let since = 0;
  content.on('data', (chunk: Buffer) => {
    const end = chunk.lastIndexOf(0x0a);
    since = end === -1 ? since + chunk.length : chunk.length - end - 1;
    if (since > LONGEST_LINE)
      content.destroy(damaged(name, `has a line of more than ${LONGEST_LINE / 1e6} MB`));
  });
  return content;
}

function parsed(where: string, text: string): unknown {
  try {
    return JSON.parse(text);
  } catch (error) {
    throw damaged(where, `is no JSON: ${(error as Error).message}`);
  }
}

export function damaged(where: string, what: string): StationError {
  return new StationError('ARCHIVE_FILE', `${where} ${what}`);
}
