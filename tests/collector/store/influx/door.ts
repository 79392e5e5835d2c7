import { once } from 'node:events';
import { createServer } from 'node:http';
import { gunzipSync } from 'node:zlib';

/** What the door of a database answers to one request: a status, and headers. */
type Answer = (lines: string[]) => { status: number; headers?: Record<string, string>; text?: string };

/** A listening socket that answers as told: refusals of a kind that no real server can be made to give at will. */
export async function door(answer: Answer) {
  const taken: string[] = [];
  const requests: { url: string; lines: number; status: number; text: string }[] = [];
  const server = createServer(async (request, response) => {
    const chunks: Buffer[] = [];
    for await (const chunk of request) chunks.push(chunk as Buffer);
    const body = Buffer.concat(chunks);
    const text =
      request.headers['content-encoding'] === 'gzip' ? gunzipSync(body).toString() : body.toString();
    const isWrite = request.url!.startsWith('/api/v2/write');
    const lines = isWrite ? text.split('\n') : [];
    const isDelete = request.url!.startsWith('/api/v2/delete');
    const said = isWrite ? answer(lines) : { status: isDelete ? 204 : 404 };
    requests.push({ url: request.url!, lines: lines.length, status: said.status, text });
    if (said.status === 204) taken.push(...lines);
    response
      .writeHead(said.status, said.headers)
      .end(said.status === 204 ? '' : JSON.stringify({ message: said.text ?? 'no' }));
  }).listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as { port: number };
  return {
    url: `http://127.0.0.1:${port}`,
    taken,
    requests,
    close: () => new Promise((resolve) => server.close(resolve).closeAllConnections()),
  };
}
