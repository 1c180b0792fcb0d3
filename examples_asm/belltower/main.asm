* Bell-tower clock controller: strikes the hours, shows the time on a panel and a small display, keeps a serial log.
*
* 6809 with B-grade parts. Written for a crystal of 3.6864 MHz, a bus clock of 0.9216 MHz.

        INCLUDE "board.inc"

        ORG     RAM
HOUR    RMB     1               ; 1 to 12
MINUTE  RMB     1
TICKS   RMB     1               ; counts fiftieths of a second, by the frame interrupt
SECOND  RMB     1
STROKES RMB     1               ; strokes still to give
CURSOR  RMB     2               ; where the panel is written next

        ORG     ROM
START   ORCC    #$50
        LDS     #STACK
        CLRA
        TFR     A,DP
        LDA     #12
        STA     HOUR
        CLR     MINUTE
        CLR     SECOND
        CLR     TICKS
        BSR     SETUP
        JSR     PANELON
        JSR     DISPON
        LDX     #HELLO
        JSR     DISPTXT
        LDX     #BANNER
        JSR     LOGTXT
        ANDCC   #$EF            ; the frame interrupt may come now
MAIN    LDA     MINUTE
        BNE     MAIN            ; wait for the full hour
        LDA     HOUR
        STA     STROKES
        JSR     CHIME
TOLL    JSR     STRIKE
        JSR     LAMPON          ; the lamp shows how long the bell may ring on
        DEC     STROKES
        BNE     TOLL
        JSR     SILENCE
        LDX     #STRUCK
        JSR     LOGTXT
        INC     MINUTE          ; struck once an hour
        BRA     MAIN

* Ports and serial line.
SETUP   CLR     DISPCTL+1       ; direction registers
        LDA     #$FF
        STA     DISPDAT
        STA     DISPCTL
        LDA     #$04
        STA     DISPDAT+1
        STA     DISPCTL+1
        CLR     STRIKER
        CLR     LAMP
        LDA     #$03            ; master reset of the serial part
        STA     SERCTL
        LDA     #$15            ; divide by 16, 8 bits, 1 stop bit
        STA     SERCTL
        RTS

* Fifty times a second: keep the time.
FRAME   LDA     PANELC          ; reading the status takes the interrupt back
        INC     TICKS
        LDA     TICKS
        CMPA    #50
        BLO     FRAMEX
        CLR     TICKS
        INC     SECOND
        LDA     SECOND
        CMPA    #60
        BLO     FRAMEX
        CLR     SECOND
        INC     MINUTE
        LDA     MINUTE
        CMPA    #60
        BLO     FRAMEX
        CLR     MINUTE
        INC     HOUR
        LDA     HOUR
        CMPA    #13
        BLO     FRAMEX
        LDA     #1
        STA     HOUR
FRAMEX  RTI

HELLO   FCC     "TOWER CLOCK"
        FCB     0
BANNER  FCC     "TOWER CLOCK STARTED"
        FCB     13,10,0
STRUCK  FCC     "HOUR STRUCK"
        FCB     13,10,0

        INCLUDE "panel.asm"
        INCLUDE "display.asm"
        INCLUDE "serial.asm"
        INCLUDE "bells.asm"

        ORG     $FFF8
        FDB     FRAME           ; IRQ
        ORG     $FFFE
        FDB     START
