* The serial log: wait until the last byte is on its way, then the next.

LOGTXT  LDA     ,X+
        BEQ     LOGEND
        BSR     LOGCHR
        BRA     LOGTXT
LOGEND  RTS

LOGCHR  LDB     SERCTL
        BITB    #%00000010      ; transmit register empty?
        BEQ     LOGCHR
        STA     SERDAT
        RTS
