* Tide bell: counts the half hours since high water and rings when the ford is about to flood. A lamp at the ford
* blinks as long as the bell may ring on, and a small display shows what comes next.
*
* 6800 with B-grade parts, written for a clock of 0.9216 MHz.

DISPDAT EQU     $8000           ; parallel port, side A: data lines of the display
DISPCTL EQU     $8002           ; side B: bit 0 enable, bit 1 register select
LAMP    EQU     $8010           ; bit 0 lights the lamp at the ford

        ORG     $0080
HALVES  RMB     1               ; half hours to high water
BLINKS  RMB     1               ; blinks still to give
NEXT    RMB     2               ; the next character to show

        ORG     $F000
START   LDS     #$007F
        CLR     DISPCTL+1       ; direction registers
        CLR     DISPDAT+1
        LDA A   #$FF
        STA A   DISPDAT
        STA A   DISPCTL
        LDA A   #$04
        STA A   DISPDAT+1
        STA A   DISPCTL+1
        BSR     DISPON
        LDX     #FLOOD
        BSR     SHOW
        LDA A   #24
        STA A   HALVES
TIDE    LDA A   #6
        STA A   BLINKS
BLINK   LDA A   #1
        STA A   LAMP
        LDX     #11520
        BSR     PAUSE           ; timing: takes at least 100 ms
        CLR     LAMP
        LDX     #11520
        BSR     PAUSE           ; timing: takes at least 100 ms
        DEC     BLINKS
        BNE     BLINK
        DEC     HALVES
        BNE     TIDE
STILL   BRA     STILL           ; the ford is dry; the watchman starts it again

* The display: its busy flag is not read, so every byte waits.
DISPON  LDX     #1740           ; 15 ms after power comes on
        BSR     PAUSE
        LDA A   #$38            ; 8 bits, 2 lines
        BSR     COMMAND
        LDX     #480            ; 4.1 ms after the first
        BSR     PAUSE
        LDA A   #$38
        BSR     COMMAND
        LDA A   #$0C            ; on, no cursor
        BSR     COMMAND
        LDA A   #$01            ; clear
        BSR     COMMAND
        LDX     #249            ; 2.16 ms for clearing
        BSR     PAUSE
        RTS

* A command: select low while enable rises and falls.
COMMAND STA A   DISPDAT
        LDA A   #%00000001
        STA A   DISPCTL
        CLR A
        STA A   DISPCTL
        BRA     WAIT

* Text from X, ended by 0.
SHOW    STX     NEXT
        LDA A   X
        BEQ     SHOWN
        STA A   DISPDAT
        LDA A   #%00000011
        STA A   DISPCTL
        LDA A   #%00000010
        STA A   DISPCTL
        BSR     WAIT
        LDX     NEXT
        INX
        BRA     SHOW
SHOWN   RTS

* Every byte needs its time.
WAIT    LDA B   #10
GAP     DEC B
        BNE     GAP
        RTS

* 8 cycles for each unit of X.
PAUSE   DEX
        BNE     PAUSE
        RTS

FLOOD   FCC     "THE FORD FLOODS"
        FCB     0

        ORG     $FFFE
        FDB     START
