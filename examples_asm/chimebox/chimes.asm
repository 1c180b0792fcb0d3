; Chime box: plays the quarters on a sound chip and lights a lamp behind the louvres while it does.
;
; 8085A, written for a clock of 1.5 MHz, a crystal of 3 MHz.

SOUND   EQU     40H             ; sound chip: pitch and loudness
LAMP    EQU     41H             ; bit 0 lights the lamp
NOTES   EQU     4               ; notes of a quarter

        ORG     8000H
PLAYED: DS      1               ; quarters since the last hour

        ORG     0
START:  LXI     SP,9000H
        XRA     A
        STA     PLAYED
QUARTER:
        MVI     A,1
        OUT     LAMP
        LXI     H,TUNE
        MVI     C,NOTES
NOTE:   MOV     A,M
        OUT     SOUND           ; low four bits of the pitch
        INX     H
        MOV     A,M
        OUT     SOUND           ; high six bits
        INX     H
        MVI     A,90H
        OUT     SOUND           ; loud
        CALL    HOLD
        MVI     A,9FH
        OUT     SOUND           ; silent
        CALL    REST
        DCR     C
        JNZ     NOTE
        XRA     A
        OUT     LAMP
        LDA     PLAYED
        INR     A
        STA     PLAYED
        CPI     4
        JNZ     QUARTER
STILL:  JMP     STILL           ; until the clock starts it again

; A pair of registers counts down without flags, so both halves are looked at.
HOLD:   LXI     D,25000         ; timing: takes at least 400 ms
RING:   DCX     D
        MOV     A,D
        ORA     E
        JNZ     RING
        RET

REST:   MVI     B,250           ; timing: takes at least 2 ms
REST1:  DCR     B
        JNZ     REST1
        RET

; Low and high part of each pitch: G sharp, F sharp, E, B.
TUNE:   DB      8DH,10H,8EH,12H,84H,15H,8BH,1CH

        END     START
