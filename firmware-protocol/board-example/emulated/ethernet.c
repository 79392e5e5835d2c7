#include "ethernet.h"

#include <string.h>

#include "lwip/etharp.h"
#include "netif/ethernet.h"

/* Registers of the LAN9118: its data sheet, chapter 5. */
#define CARD 0x40200000u
#define REG(offset) (*(volatile uint32_t *)(CARD + (offset)))

enum {
  RX_DATA = 0x00,
  TX_DATA = 0x20,
  RX_STATUS = 0x40,
  TX_STATUS = 0x48,
  TX_CONFIG = 0x70,
  RX_FIFO_INFO = 0x7c,
  TX_FIFO_INFO = 0x80,
  MAC_COMMAND = 0xa4,
  MAC_DATA = 0xa8,

  MAC_CONTROL = 1,
  MAC_ADDRESS_HIGH = 2,
  MAC_ADDRESS_LOW = 3,
  RECEIVE_ON = 1 << 2,
  TRANSMIT_ON = 1 << 3,
  TX_ON = 1 << 1,
  FIRST_SEGMENT = 1 << 13,
  LAST_SEGMENT = 1 << 12,
  RX_ERROR = 1 << 15,
  MOST = 1518,
  CHECKSUM_BYTES = 4
};

static const uint8_t address[6] = {0x02, 0x43, 0x4c, 0x00, 0x00, 0x01}; /* locally administered */

static void mac_write(uint32_t reg, uint32_t value) {
  REG(MAC_DATA) = value;
  REG(MAC_COMMAND) = 0x80000000u | reg;
  while ((REG(MAC_COMMAND) & 0x80000000u) != 0) {
  }
}

static err_t transmit(struct netif *netif, struct pbuf *packet) {
  uint32_t words[(MOST + 3) / 4] = {0};
  (void)netif;
  if (packet->tot_len > MOST) return ERR_BUF;
  const uint32_t length = pbuf_copy_partial(packet, words, packet->tot_len, 0);
  if ((REG(TX_FIFO_INFO) & 0xffffu) < length + 16) return ERR_MEM;
  REG(TX_DATA) = FIRST_SEGMENT | LAST_SEGMENT | length;
  REG(TX_DATA) = length;
  for (uint32_t i = 0; i < (length + 3) / 4; i++) REG(TX_DATA) = words[i];
  while ((REG(TX_FIFO_INFO) >> 16 & 0xffu) != 0) (void)REG(TX_STATUS);
  return ERR_OK;
}

err_t ethernet_init(struct netif *netif) {
  netif->name[0] = 'e';
  netif->name[1] = '0';
  netif->output = etharp_output;
  netif->linkoutput = transmit;
  netif->mtu = 1500;
  netif->hwaddr_len = sizeof address;
  memcpy(netif->hwaddr, address, sizeof address);
  netif->flags = NETIF_FLAG_BROADCAST | NETIF_FLAG_ETHARP | NETIF_FLAG_ETHERNET | NETIF_FLAG_LINK_UP;
  mac_write(MAC_ADDRESS_LOW, address[0] | address[1] << 8 | address[2] << 16 | (uint32_t)address[3] << 24);
  mac_write(MAC_ADDRESS_HIGH, address[4] | address[5] << 8);
  mac_write(MAC_CONTROL, RECEIVE_ON | TRANSMIT_ON);
  REG(TX_CONFIG) = TX_ON;
  return ERR_OK;
}

void ethernet_poll(struct netif *netif) {
  uint32_t words[(MOST + 3) / 4];
  while ((REG(RX_FIFO_INFO) >> 16 & 0xffu) != 0) {
    const uint32_t status = REG(RX_STATUS);
    const uint32_t length = status >> 16 & 0x3fffu;
    const uint32_t count = (length + 3) / 4;
    for (uint32_t i = 0; i < count; i++) {
      const uint32_t word = REG(RX_DATA);
      if (i < sizeof words / sizeof *words) words[i] = word;
    }
    if ((status & RX_ERROR) != 0 || length <= CHECKSUM_BYTES || length > MOST) continue;
    struct pbuf *packet = pbuf_alloc(PBUF_RAW, (u16_t)(length - CHECKSUM_BYTES), PBUF_POOL);
    if (packet == NULL) continue; /* lost: TCP sends it again */
    (void)pbuf_take(packet, words, (u16_t)(length - CHECKSUM_BYTES));
    if (netif->input(packet, netif) != ERR_OK) pbuf_free(packet);
  }
}
