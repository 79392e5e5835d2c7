import type { FastifyReply, FastifyRequest } from 'fastify';

/** `__Host-` makes the browser itself insist on Secure, Path=/ and no Domain; it is allowed with TLS only. */
const NAME = 'clampline-session';
const SECURE_NAME = `__Host-${NAME}`;

/** Reads and writes the session cookie. Scripts cannot read it, and other sites' pages cannot make it be sent. */
export interface SessionCookie {
  read(request: FastifyRequest): string | undefined;
  write(reply: FastifyReply, token: string, expiresMs: number): void;
  clear(reply: FastifyReply): void;
}

export function createSessionCookie(secure: boolean): SessionCookie {
  const name = secure ? SECURE_NAME : NAME;
  const attributes = { path: '/', httpOnly: true, sameSite: 'strict', secure } as const;
  return {
    read: (request) => request.cookies[name],
    write: (reply, token, expiresMs) =>
      void reply.setCookie(name, token, { ...attributes, expires: new Date(expiresMs) }),
    clear: (reply) => void reply.clearCookie(name, attributes),
  };
}
