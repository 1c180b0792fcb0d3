; Dial lamp: shows on a display whether it is day or night, lights the dial by night and strikes the quarter bell.
; Written for an R65C02 at 1 MHz. All its waits are counted loops.

LCDCMD  = $8000         ; 44780, commands
LCDDAT  = $8001         ; 44780, characters
LAMP    = $8100         ; bit 0: lamp behind the dial
BELL    = $8200         ; bit 0: hammer of the bell

LIGHT   = $10           ; zero page: last reading of the light cell, 128 and more by night
TEXT    = $12           ; pointer to the words being shown

        *= $E000

START   SEI
        CLD
        LDX #$FF
        TXS
        STZ LAMP
        STZ BELL
        JSR LONG
        LDA #$38        ; eight bits, two lines
        STA LCDCMD
        JSR PAUSE
        STA LCDCMD
        JSR PAUSE
        STA LCDCMD
        JSR SETTLE
        LDA #$0C        ; display on, no cursor
        STA LCDCMD
        JSR SETTLE

WATCH   LDA #$01        ; clear
        STA LCDCMD
        JSR PAUSE
        LDX #<DAY
        LDY #>DAY
        LDA LIGHT
        BPL WORDS
        LDX #<NIGHT
        LDY #>NIGHT
WORDS   STX TEXT
        STY TEXT+1
        JSR SHOW
        BBR7 LIGHT,UNLIT
        LDA #1
        STA LAMP
        JSR STRIKE
        BRA WATCH
UNLIT   STZ LAMP
        BRA WATCH

; Shows the words at TEXT up to a zero byte.
SHOW    LDY #0
NEXT    LDA (TEXT),Y
        BEQ DONE
        STA LCDDAT
        JSR SETTLE
        INY
        BNE NEXT
DONE    RTS

; The hammer is held for a moment, then let go.
STRIKE  LDA #1
        STA BELL
        JSR PAUSE
        STZ BELL
        RTS

; One command of the display: 60 us.
SETTLE  LDX #8          ; timing: takes at least 60 us
S1      DEX
        BNE S1
        NOP
        NOP
        NOP
        NOP
        NOP
        NOP
        NOP
        RTS

; A slow command of the display: 6 ms.
PAUSE   LDX #5
P1      LDY #240
P2      DEY
        BNE P2
        DEX
        BNE P1
        RTS

; After the supply comes up: 65 ms.
LONG    LDX #51
L1      LDY #0
L2      DEY
        BNE L2
        DEX
        BNE L1
        RTS

DAY     .byte "The sun is up",0
NIGHT   .byte "Lamp is lit",0

        *= $FFFA
        .word START, START, START
