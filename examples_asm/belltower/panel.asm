* The video panel: registers from a table, then a cleared screen.

PANELON LDX     #PANREGS
        LDB     #$80            ; register 0, with the write bit
PANREG  LDA     ,X+
        STA     PANELC          ; the value first
        NOP
        STB     PANELC          ; then the register's number
        INCB
        CMPB    #$88
        BNE     PANREG

* Clear the whole name table: one store a turn.
PANCLR  CLRA
        STA     PANELC
        LDA     #$40            ; write from address $0000 on
        STA     PANELC
        LDX     #COLS*ROWS
        LDA     #' '
PANFILL STA     PANELD
        LEAX    -1,X
        BNE     PANFILL
        RTS

PANREGS FCB     $00,$E0,$00,$80,$01,$36,$07,$F4
