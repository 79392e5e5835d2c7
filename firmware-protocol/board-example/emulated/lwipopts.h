/* lwIP for the emulated board: no operating system, TCP over Ethernet, one fixed address. */
#ifndef LWIPOPTS_H
#define LWIPOPTS_H

#define NO_SYS 1
#define SYS_LIGHTWEIGHT_PROT 0
#define LWIP_NETCONN 0
#define LWIP_SOCKET 0
#define LWIP_UDP 0
#define LWIP_RAW 0
#define LWIP_STATS 0
#define MEM_ALIGNMENT 4
#define MEM_SIZE 65536
#define TCP_MSS 1460
#define TCP_SND_BUF (8 * TCP_MSS)
#define TCP_SND_QUEUELEN 64
#define MEMP_NUM_TCP_SEG 64
#define TCP_WND (4 * TCP_MSS)
#define PBUF_POOL_SIZE 16
#define LWIP_NETIF_TX_SINGLE_PBUF 0

#endif
